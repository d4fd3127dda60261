#include "hmic_sha256.h"

/* The first 32 bits of the fractional parts of the cube roots of the first 64 primes (FIPS 180-4, 4.2.2). */
static const uint32_t constants[64] = {
    0x428A2F98u, 0x71374491u, 0xB5C0FBCFu, 0xE9B5DBA5u, 0x3956C25Bu, 0x59F111F1u, 0x923F82A4u, 0xAB1C5ED5u,
    0xD807AA98u, 0x12835B01u, 0x243185BEu, 0x550C7DC3u, 0x72BE5D74u, 0x80DEB1FEu, 0x9BDC06A7u, 0xC19BF174u,
    0xE49B69C1u, 0xEFBE4786u, 0x0FC19DC6u, 0x240CA1CCu, 0x2DE92C6Fu, 0x4A7484AAu, 0x5CB0A9DCu, 0x76F988DAu,
    0x983E5152u, 0xA831C66Du, 0xB00327C8u, 0xBF597FC7u, 0xC6E00BF3u, 0xD5A79147u, 0x06CA6351u, 0x14292967u,
    0x27B70A85u, 0x2E1B2138u, 0x4D2C6DFCu, 0x53380D13u, 0x650A7354u, 0x766A0ABBu, 0x81C2C92Eu, 0x92722C85u,
    0xA2BFE8A1u, 0xA81A664Bu, 0xC24B8B70u, 0xC76C51A3u, 0xD192E819u, 0xD6990624u, 0xF40E3585u, 0x106AA070u,
    0x19A4C116u, 0x1E376C08u, 0x2748774Cu, 0x34B0BCB5u, 0x391C0CB3u, 0x4ED8AA4Au, 0x5B9CCA4Fu, 0x682E6FF3u,
    0x748F82EEu, 0x78A5636Fu, 0x84C87814u, 0x8CC70208u, 0x90BEFFFAu, 0xA4506CEBu, 0xBEF9A3F7u, 0xC67178F2u};

static uint32_t turned(uint32_t value, uint32_t by) { return value >> by | value << (32 - by); }

static uint32_t big(const uint8_t *at)
{
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

static void put_big(uint8_t *to, uint32_t value)
{
    to[0] = (uint8_t)(value >> 24);
    to[1] = (uint8_t)(value >> 16);
    to[2] = (uint8_t)(value >> 8);
    to[3] = (uint8_t)value;
}

/* The message schedule is kept as the last 16 words only. */
static void block(uint32_t hash[8], const uint8_t *data)
{
    uint32_t words[16], state[8], round;
    memcpy(state, hash, sizeof state);
    for (round = 0; round < 64; round++) {
        uint32_t word, one, two, a = state[0], e = state[4];
        if (round < 16) {
            word = big(data + 4 * round);
        } else {
            uint32_t early = words[(round + 1) & 15u], late = words[(round + 14) & 15u];
            word = words[round & 15u] + words[(round + 9) & 15u] +
                   (turned(early, 7) ^ turned(early, 18) ^ early >> 3) +
                   (turned(late, 17) ^ turned(late, 19) ^ late >> 10);
        }
        words[round & 15u] = word;
        one = state[7] + (turned(e, 6) ^ turned(e, 11) ^ turned(e, 25)) +
              ((e & state[5]) ^ (~e & state[6])) + constants[round] + word;
        two = (turned(a, 2) ^ turned(a, 13) ^ turned(a, 22)) +
              ((a & state[1]) ^ (a & state[2]) ^ (state[1] & state[2]));
        memmove(state + 1, state, 7 * sizeof *state);
        state[4] += one;
        state[0] = one + two;
    }
    for (round = 0; round < 8; round++)
        hash[round] += state[round];
}

void hmic_sha256(uint8_t digest[32], const uint8_t *data, uint32_t size)
{
    uint32_t hash[8] = {0x6A09E667u, 0xBB67AE85u, 0x3C6EF372u, 0xA54FF53Au,
                        0x510E527Fu, 0x9B05688Cu, 0x1F83D9ABu, 0x5BE0CD19u};
    uint8_t last[64];
    uint32_t left = size, place;
    for (; left >= 64; left -= 64, data += 64)
        block(hash, data);
    memset(last, 0, sizeof last);
    memcpy(last, data, left);
    last[left] = 0x80;
    if (left >= 56) {
        block(hash, last);
        memset(last, 0, sizeof last);
    }
    put_big(last + 56, size >> 29);
    put_big(last + 60, size << 3);
    block(hash, last);
    for (place = 0; place < 8; place++)
        put_big(digest + 4 * place, hash[place]);
}
