/* A display on a computer: plays a pack on a pseudo terminal and saves a picture on SIGUSR1.
 *
 *     player [--store FILE] [--picture FILE]
 *
 * It prints the path of its port. The store is a file of 8 MiB, or memory that is gone at the end. */
#define _XOPEN_SOURCE 700
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "hmic_display.h"
#include "hmic_settings.h"

enum { STORE = 8 << 20, SECTOR = 4096, PAGE = 256, LINES = 16, PIXEL = HMIC_DEPTH == 16 ? 2 : 3, WAIT = 5 };

static volatile sig_atomic_t wanted, ended;

typedef struct computer {
    int line;
    uint8_t *flash;
    uint8_t frame[HMIC_WIDTH * HMIC_HEIGHT * PIXEL];
} computer;

static uint32_t read_line(void *board, uint8_t *to, uint32_t room)
{
    ssize_t count = read(((computer *)board)->line, to, room);
    return count > 0 ? (uint32_t)count : 0;
}

static uint32_t write_line(void *board, const uint8_t *from, uint32_t count)
{
    ssize_t taken = write(((computer *)board)->line, from, count);
    return taken > 0 ? (uint32_t)taken : 0;
}

static void set_rate(void *board, uint32_t baud)
{
    (void)board;
    (void)baud;
}

static uint32_t milliseconds(void *board)
{
    struct timespec now;
    (void)board;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint32_t)((uint64_t)now.tv_sec * 1000u + (uint64_t)now.tv_nsec / 1000000u);
}

static uint32_t some_bits(void *board)
{
    uint32_t bits = milliseconds(board) ^ (uint32_t)getpid() << 16;
    int file = open("/dev/urandom", O_RDONLY);
    if (file >= 0) {
        if (read(file, &bits, sizeof bits) != (ssize_t)sizeof bits)
            bits = ~bits;
        close(file);
    }
    return bits;
}

static bool erase(void *board, uint32_t offset)
{
    memset(((computer *)board)->flash + offset, 0xFF, SECTOR);
    return true;
}

static bool program(void *board, uint32_t offset, const uint8_t *data, uint32_t size)
{
    uint8_t *at = ((computer *)board)->flash + offset;
    for (; size; size--, at++, data++)
        *at = (uint8_t)(*at & *data);
    return true;
}

static void push(void *board, uint16_t left, uint16_t top, uint16_t width, uint16_t height, const void *pixels)
{
    uint8_t *to = ((computer *)board)->frame + ((size_t)top * HMIC_WIDTH + left) * PIXEL;
    const uint8_t *from = pixels;
    for (; height; height--, to += (size_t)HMIC_WIDTH * PIXEL, from += (size_t)width * PIXEL)
        memcpy(to, from, (size_t)width * PIXEL);
}

static bool finger(void *board, uint16_t *x, uint16_t *y)
{
    (void)board;
    (void)x;
    (void)y;
    return false;
}

static void backlight(void *board, uint8_t percent)
{
    (void)board;
    (void)percent;
}

/* ---- a picture: PNG (ISO/IEC 15948) with nothing compressed ---- */

static void put_big(uint8_t *to, uint32_t value)
{
    to[0] = (uint8_t)(value >> 24);
    to[1] = (uint8_t)(value >> 16);
    to[2] = (uint8_t)(value >> 8);
    to[3] = (uint8_t)value;
}

static void chunk(FILE *file, const char *kind, const uint8_t *data, uint32_t size)
{
    uint8_t word[4];
    put_big(word, size);
    fwrite(word, 1, 4, file);
    fwrite(kind, 1, 4, file);
    fwrite(data, 1, size, file);
    put_big(word, hmic_crc32(hmic_crc32(0, (const uint8_t *)kind, 4), data, size));
    fwrite(word, 1, 4, file);
}

static void rgb_row(const computer *self, int y, uint8_t *to)
{
    const uint8_t *from = self->frame + (size_t)y * HMIC_WIDTH * PIXEL;
    int x;
    for (x = 0; x < HMIC_WIDTH; x++, from += PIXEL, to += 3) {
        if (PIXEL == 3) {
            memcpy(to, from, 3);
        } else {
            uint16_t word;
            memcpy(&word, from, 2);
            to[0] = (uint8_t)((word >> 11) << 3 | word >> 13);
            to[1] = (uint8_t)((word >> 5 & 63) << 2 | (word >> 9 & 3));
            to[2] = (uint8_t)((word & 31) << 3 | (word >> 2 & 7));
        }
    }
}

static int save(const computer *self, const char *path)
{
    static uint8_t body[(size_t)HMIC_HEIGHT * (HMIC_WIDTH * 3 + 6) + 6];
    const uint32_t row = HMIC_WIDTH * 3 + 1;
    uint8_t head[13] = {0, 0, 0, 0, 0, 0, 0, 0, 8, 2, 0, 0, 0}, *to = body;
    uint32_t one = 1, two = 0, place;
    char partial[4096];
    FILE *file;
    int y;
    put_big(head, HMIC_WIDTH);
    put_big(head + 4, HMIC_HEIGHT);
    *to++ = 0x78;
    *to++ = 0x01;
    for (y = 0; y < HMIC_HEIGHT; y++) {
        *to++ = y == HMIC_HEIGHT - 1;
        *to++ = (uint8_t)row;
        *to++ = (uint8_t)(row >> 8);
        *to++ = (uint8_t)~row;
        *to++ = (uint8_t)(~row >> 8);
        *to = 0;
        rgb_row(self, y, to + 1);
        for (place = 0; place < row; place++) {
            one = (one + to[place]) % 65521u;
            two = (two + one) % 65521u;
        }
        to += row;
    }
    put_big(to, two << 16 | one);
    to += 4;
    snprintf(partial, sizeof partial, "%s.part", path);
    file = fopen(partial, "wb");
    if (!file)
        return -1;
    fwrite("\x89PNG\r\n\x1a\n", 1, 8, file);
    chunk(file, "IHDR", head, sizeof head);
    chunk(file, "IDAT", body, (uint32_t)(to - body));
    chunk(file, "IEND", head, 0);
    return fclose(file) ? -1 : rename(partial, path);
}

/* ---- the program ---- */

static void on_signal(int number)
{
    if (number == SIGUSR1)
        wanted = 1;
    else
        ended = 1;
}

/* Opens a pseudo terminal that hands on every byte as it is, and tells its other end. */
static int open_line(void)
{
    struct termios plain;
    int line = posix_openpt(O_RDWR | O_NOCTTY), other;
    const char *name;
    if (line < 0 || grantpt(line) || unlockpt(line) || !(name = ptsname(line)))
        return -1;
    /* Kept open, so that the line outlives each program on its other end. */
    other = open(name, O_RDWR | O_NOCTTY);
    if (other < 0 || tcgetattr(other, &plain))
        return -1;
    plain.c_iflag = plain.c_oflag = plain.c_lflag = 0;
    plain.c_cflag = CS8 | CREAD | CLOCAL;
    if (tcsetattr(other, TCSANOW, &plain) || fcntl(line, F_SETFL, O_NONBLOCK))
        return -1;
    printf("%s\n", name);
    fflush(stdout);
    return line;
}

static uint8_t *open_store(const char *path)
{
    int flags = path ? MAP_SHARED : MAP_PRIVATE, file = path ? open(path, O_RDWR | O_CREAT, 0666) : -1;
    bool fresh = !path;
    void *flash;
    if (path) {
        off_t size = file < 0 ? -1 : lseek(file, 0, SEEK_END);
        fresh = size == 0;
        if (size < 0 || (size != 0 && size != STORE) || ftruncate(file, STORE))
            return NULL;
    } else {
        file = open("/dev/zero", O_RDWR);
    }
    flash = mmap(NULL, STORE, PROT_READ | PROT_WRITE, flags, file, 0);
    if (flash == MAP_FAILED)
        return NULL;
    if (fresh)
        memset(flash, 0xFF, STORE);
    return flash;
}

static int usage(void)
{
    fprintf(stderr, "use: player [--store FILE] [--picture FILE]\n");
    return 2;
}

int main(int count, char **words)
{
    static computer self;
    static hmic_display display;
    static uint16_t values[3][HMIC_MOST_CHANNELS];
    static uint16_t pixels[HMIC_WIDTH * LINES * PIXEL / 2 + 1];
    const hmic_memory memory = {values[0], values[1], values[2], HMIC_MOST_CHANNELS, pixels, sizeof pixels};
    hmic_port port = {
        .read = read_line,
        .write = write_line,
        .rate = set_rate,
        .milliseconds = milliseconds,
        .random = some_bits,
        .erase = erase,
        .program = program,
        .push = push,
        .finger = finger,
        .backlight = backlight,
        .flash = NULL,
        .flash_size = STORE,
        .sector = SECTOR,
        .page = PAGE,
        .baud = HMIC_BAUD,
        .fastest = 0,
        .width = HMIC_WIDTH,
        .height = HMIC_HEIGHT,
        .depth = HMIC_DEPTH,
        .two_wires = false,
    };
    const char *store = NULL, *picture = "player.png";
    struct sigaction action;
    int word;
    for (word = 1; word + 1 < count; word += 2) {
        if (!strcmp(words[word], "--store"))
            store = words[word + 1];
        else if (!strcmp(words[word], "--picture"))
            picture = words[word + 1];
        else
            return usage();
    }
    if (word != count)
        return usage();
    memset(&action, 0, sizeof action);
    action.sa_handler = on_signal;
    sigaction(SIGUSR1, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGINT, &action, NULL);
    self.flash = open_store(store);
    port.flash = self.flash;
    if (!self.flash || (self.line = open_line()) < 0) {
        fprintf(stderr, "player: %s cannot be opened\n", self.flash ? "a pseudo terminal" : "the store");
        return 1;
    }
    if (!hmic_display_start(&display, &port, &self, &memory)) {
        fprintf(stderr, "player: the settings do not fit together\n");
        return 1;
    }
#if HMIC_WITH_PACK
    if (!display.packed && !hmic_display_install(&display, hmic_design_pack, hmic_design_pack_size))
        fprintf(stderr, "player: the pack does not fit\n");
#endif
    while (!ended) {
        struct pollfd ready = {0, POLLIN, 0};
        ready.fd = self.line;
        hmic_display_turn(&display);
        if (wanted) {
            wanted = 0;
            if (save(&self, picture))
                fprintf(stderr, "player: %s cannot be written\n", picture);
        }
        poll(&ready, 1, WAIT);
    }
    return 0;
}
