#include "hmic_paint.h"

#include "hmic_planes.h"

enum { GROUND = 0, DOUBT = 1, FULL_LEVEL = 255, HALF_BEAT = 500, GAP_ROWS = 8, DOUBT_LETTERS = 3 };
enum { MARK_UNSEEN = 12, MINUS = 10, PLUS = 11, FIRST_POINT = 15 };

/* Where paint goes, and in what colour. Red and blue are blended together, 16 bits apart. */
struct brush {
    const hmic_pack *pack;
    const hmic_moment *moment;
    const uint8_t *palette;
    uint8_t *pixels;
    hmic_area panel; /* the part of the panel that the pixels are */
    hmic_area clip;  /* of it, what the operation at hand may touch */
    uint32_t red_blue, green;
    int32_t stride;
    bool words; /* 16 bits a pixel */
};

/* The doubt look's hatches, eight rows of eight coverages, the leftmost in the low half byte. */
static const uint32_t hatches[3][8] = {
    {0x00000AFAu, 0x00000FFFu, 0x00000AFAu, 0x00000000u, 0x0AFA0000u, 0x0FFF0000u, 0x0AFA0000u, 0x00000000u},
    {0x700007FFu, 0xF700007Fu, 0xFF700007u, 0x7FF70000u, 0x07FF7000u, 0x007FF700u, 0x0007FF70u, 0x00007FF7u},
    {0x8000008Fu, 0xF80008F8u, 0x8F808F80u, 0x08F8F800u, 0x008F8000u, 0x08F8F800u, 0x8F808F80u, 0xF80008F8u}};

static uint32_t div255(uint32_t value)
{
    value += 128;
    return (value + (value >> 8)) >> 8;
}

static uint32_t hatch_level(uint32_t state, int32_t x, int32_t y)
{
    return 17 * (hatches[state][y & 7] >> ((uint32_t)(x & 7) * 4) & 15u);
}

static hmic_area meet(hmic_area one, hmic_area other)
{
    hmic_area both;
    both.left = hmic_most(one.left, other.left);
    both.top = hmic_most(one.top, other.top);
    both.right = hmic_least(one.right, other.right);
    both.bottom = hmic_least(one.bottom, other.bottom);
    return both;
}

static bool empty(hmic_area area) { return area.left >= area.right || area.top >= area.bottom; }

static hmic_area area_of(int32_t left, int32_t top, int32_t width, int32_t height)
{
    hmic_area area;
    area.left = left;
    area.top = top;
    area.right = left + width;
    area.bottom = top + height;
    return area;
}

static hmic_area box_of(const uint8_t *record)
{
    return area_of((int32_t)hmic_u16(record + 2), (int32_t)hmic_u16(record + 4), (int32_t)hmic_u16(record + 6),
                   (int32_t)hmic_u16(record + 8));
}

/* ---- pixels ---- */

static void dip_word(struct brush *brush, uint32_t word)
{
    brush->red_blue = (word >> 11 & 31u) << 16 | (word & 31u);
    brush->green = word >> 5 & 63u;
}

static void dip(struct brush *brush, uint32_t entry)
{
    const uint8_t *colour = brush->palette + 3 * entry;
    if (brush->words) {
        brush->red_blue = (uint32_t)(colour[0] >> 3) << 16 | colour[2] >> 3;
        brush->green = colour[1] >> 2;
    } else {
        brush->red_blue = (uint32_t)colour[0] << 16 | colour[2];
        brush->green = colour[1];
    }
}

static uint8_t *pixel(const struct brush *brush, int32_t x, int32_t y)
{
    int32_t place = (y - brush->panel.top) * brush->stride + x - brush->panel.left;
    return brush->pixels + place * (brush->words ? 2 : 3);
}

static void store(const struct brush *brush, uint8_t *at, uint32_t red_blue, uint32_t green)
{
    if (brush->words) {
        uint16_t word = (uint16_t)((red_blue >> 16) << 11 | green << 5 | (red_blue & 31u));
        memcpy(at, &word, 2);
    } else {
        at[0] = (uint8_t)(red_blue >> 16);
        at[1] = (uint8_t)green;
        at[2] = (uint8_t)red_blue;
    }
}

static void load(const struct brush *brush, const uint8_t *at, uint32_t *red_blue, uint32_t *green)
{
    if (brush->words) {
        uint16_t word;
        memcpy(&word, at, 2);
        *red_blue = (uint32_t)(word >> 11) << 16 | (word & 31u);
        *green = word >> 5 & 63u;
    } else {
        *red_blue = (uint32_t)at[0] << 16 | at[2];
        *green = at[1];
    }
}

/* Blends the ink into one pixel: two parts at once, since no part's sum leaves its 16 bits. */
static void blend(const struct brush *brush, uint8_t *at, uint32_t level)
{
    uint32_t pair, one, under, green;
    if (!level)
        return;
    if (level == FULL_LEVEL) {
        store(brush, at, brush->red_blue, brush->green);
        return;
    }
    load(brush, at, &under, &green);
    pair = under * (FULL_LEVEL - level) + brush->red_blue * level + 0x00800080u;
    pair = (pair + (pair >> 8 & 0x00FF00FFu)) >> 8 & 0x00FF00FFu;
    one = div255(green * (FULL_LEVEL - level) + brush->green * level);
    store(brush, at, pair, one);
}

static void spot(const struct brush *brush, int32_t x, int32_t y, uint32_t level)
{
    blend(brush, pixel(brush, x, y), level);
}

/* Pixels from..to of a row in the full ink; the caller has clipped. */
static void span(const struct brush *brush, int32_t from, int32_t to, int32_t y)
{
    int32_t size = brush->words ? 2 : 3, count = to - from, done;
    uint8_t *at;
    if (count <= 0)
        return;
    at = pixel(brush, from, y);
    store(brush, at, brush->red_blue, brush->green);
    for (done = 1; done < count; done *= 2)
        memcpy(at + done * size, at, (size_t)(hmic_least(done, count - done) * size));
}

static void solid(const struct brush *brush, hmic_area area)
{
    int32_t y;
    area = meet(area, brush->clip);
    for (y = area.top; y < area.bottom; y++)
        span(brush, area.left, area.right, y);
}

/* ---- masks ---- */

static hmic_rows mask_of(const hmic_pack *pack, uint32_t number)
{
    const uint8_t *record = hmic_record(pack, HMIC_MASKS, number, HMIC_PLANE_SIZE);
    return hmic_rows_of(pack->data + pack->at[HMIC_PLANES] + hmic_u32(record + 8), hmic_u16(record),
                        hmic_u16(record + 2), record[4], true);
}

static hmic_runs runs_of(hmic_rows *rows, uint32_t row)
{
    hmic_runs runs;
    runs.at = hmic_rows_seek(rows, row);
    runs.left = rows->width;
    runs.plain = rows->form == HMIC_PLAIN;
    return runs;
}

/* A run of a mask whose first pixel stands at x, in the ink, or in its hatch if `state` is not live. */
static void lay_run(const struct brush *brush, const hmic_run *run, int32_t x, int32_t y, uint32_t state)
{
    int32_t from = hmic_most(x, brush->clip.left), size = brush->words ? 2 : 3;
    int32_t to = hmic_least(x + (int32_t)run->count, brush->clip.right);
    uint8_t *at;
    if (run->kind == HMIC_CLEAR || from >= to)
        return;
    if (run->kind == HMIC_FULL && state == HMIC_LIVE) {
        span(brush, from, to, y);
        return;
    }
    for (at = pixel(brush, from, y); from < to; from++, at += size) {
        uint32_t level =
            run->kind == HMIC_FULL ? FULL_LEVEL : 17 * hmic_coverage(run->soft, (uint32_t)(from - x));
        if (state != HMIC_LIVE)
            level = div255(level * hatch_level(state, from, y));
        blend(brush, at, level);
    }
}

/* A mask with its corner at (left, top). */
static void stamp(const struct brush *brush, uint32_t mask, int32_t left, int32_t top, uint32_t state)
{
    hmic_rows rows = mask_of(brush->pack, mask);
    hmic_area part = meet(brush->clip, area_of(left, top, (int32_t)rows.width, (int32_t)rows.height));
    int32_t y;
    if (empty(part))
        return;
    for (y = part.top; y < part.bottom; y++) {
        hmic_runs runs = runs_of(&rows, (uint32_t)(y - top));
        hmic_run run;
        int32_t x = left;
        while (x < part.right && hmic_next_run(&runs, &run)) {
            lay_run(brush, &run, x, y, state);
            x += (int32_t)run.count;
        }
    }
}

static void stamp_glyph(const struct brush *brush, const uint8_t *glyph, int32_t left, int32_t top)
{
    stamp(brush, hmic_u16(glyph), left + hmic_i16(glyph + 2), top + hmic_i16(glyph + 4), HMIC_LIVE);
}

static void hatched(const struct brush *brush, hmic_area area, uint32_t state)
{
    hmic_run all;
    int32_t y;
    area = meet(area, brush->clip);
    all.kind = HMIC_FULL;
    all.soft = brush->palette;
    for (y = area.top; area.left < area.right && y < area.bottom; y++) {
        all.count = (uint32_t)(area.right - area.left);
        lay_run(brush, &all, area.left, y, state);
    }
}

static void flat(const struct brush *brush, hmic_area area, uint32_t state)
{
    if (state == HMIC_LIVE)
        solid(brush, area);
    else
        hatched(brush, area, state);
}

/* ---- operations ---- */

static uint32_t raw_of(const hmic_pack *pack, const uint16_t *raw, uint32_t channel)
{
    uint32_t value = raw[channel];
    return value < HMIC_LIVE + hmic_steps(pack, channel) ? value : HMIC_OUT_OF_RANGE;
}

static uint32_t value_of(const struct brush *brush, uint32_t channel)
{
    return raw_of(brush->pack, brush->moment->raw, channel);
}

/* The part of a run of a corner mask that falls on one half of a frame; `sign` 1: the left one. */
static void corner_run(const struct brush *brush, const hmic_run *run, int32_t first, int32_t limit, int32_t edge,
                       int32_t sign, int32_t y, uint32_t state)
{
    int32_t place, to = hmic_least(first + (int32_t)run->count, limit);
    if (run->kind == HMIC_CLEAR)
        return;
    for (place = first; place < to; place++) {
        int32_t x = edge + sign * place;
        uint32_t level = run->kind == HMIC_FULL ? FULL_LEVEL
                                                : 17 * hmic_coverage(run->soft, (uint32_t)(place - first));
        if (x < brush->clip.left || x >= brush->clip.right)
            continue;
        if (state != HMIC_LIVE)
            level = div255(level * hatch_level(state, x, y));
        spot(brush, x, y, level);
    }
}

static void paint_frame(const struct brush *brush, const uint8_t *record, uint32_t state)
{
    hmic_area box = box_of(record);
    hmic_rows rows = mask_of(brush->pack, hmic_u16(record + 20));
    int32_t width = box.right - box.left, y;
    int32_t left = hmic_least((int32_t)rows.width, (width + 1) / 2);
    int32_t right = hmic_least((int32_t)rows.width, width / 2);
    for (y = brush->clip.top; y < brush->clip.bottom; y++) {
        int32_t down = hmic_least(y - box.top, box.bottom - 1 - y), place = 0;
        hmic_area row = area_of(box.left, y, width, 1);
        if (rows.width && down < (int32_t)rows.height) {
            hmic_runs runs = runs_of(&rows, (uint32_t)down);
            hmic_run run;
            while (place < left && hmic_next_run(&runs, &run)) {
                corner_run(brush, &run, place, left, box.left, 1, y, state);
                corner_run(brush, &run, place, right, box.right - 1, -1, y, state);
                place += (int32_t)run.count;
            }
            row.left += left;
            row.right -= right;
        }
        flat(brush, row, state);
    }
}

static void paint_run(const struct brush *brush, const uint8_t *record)
{
    hmic_area box = box_of(record);
    const uint8_t *glyph = hmic_record(brush->pack, HMIC_GLYPHS, hmic_u32(record + 20), HMIC_GLYPH_SIZE);
    uint32_t left = hmic_u16(record + 24);
    for (; left; left--, glyph += HMIC_GLYPH_SIZE)
        stamp_glyph(brush, glyph, box.left, box.top);
}

/* Sets one figure and moves the pen to its left edge. */
static void set_figure(const struct brush *brush, const uint8_t *set, uint32_t figure, int32_t *pen, int32_t top)
{
    *pen -= (int32_t)hmic_u16(set + (figure >= FIRST_POINT ? 2 : 0));
    stamp_glyph(brush, set + 6 + figure * HMIC_GLYPH_SIZE, *pen, top);
}

static void paint_figures(const struct brush *brush, const uint8_t *record, uint32_t state)
{
    hmic_area box = box_of(record);
    const uint8_t *set =
        hmic_record(brush->pack, HMIC_FIGURE_SETS, hmic_u16(record + 22), HMIC_FIGURE_SET_SIZE);
    uint32_t least = record[32], point = record[34], after = record[35], place, rest;
    int32_t pen = box.right, number;
    if (state != HMIC_LIVE) {
        for (place = record[33]; place; place--)
            set_figure(brush, set, MARK_UNSEEN + state, &pen, box.top);
        return;
    }
    number = hmic_i32(record + 24) +
             hmic_i32(record + 28) * (int32_t)(value_of(brush, hmic_u16(record + 20)) - HMIC_LIVE);
    rest = number < 0 ? 0u - (uint32_t)number : (uint32_t)number;
    point = after ? point : 0;
    least = point && least < after + 1 ? after + 1 : least ? least : 1;
    for (place = 0; place < least || rest; place++) {
        uint32_t radix = place == 1 && record[1] & 2u ? 6 : 10;
        if (point && place == after)
            set_figure(brush, set, point, &pen, box.top);
        set_figure(brush, set, rest % radix, &pen, box.top);
        rest /= radix;
    }
    if (number < 0)
        set_figure(brush, set, MINUS, &pen, box.top);
    else if (number > 0 && record[1] & 1u)
        set_figure(brush, set, PLUS, &pen, box.top);
}

/* The part of a box from `low` to `high` along a straight axis. */
static hmic_area stretch(hmic_area box, uint32_t axis, int32_t low, int32_t high)
{
    bool upright = axis == HMIC_UPWARD || axis == HMIC_DOWNWARD;
    int32_t length = upright ? box.bottom - box.top : box.right - box.left;
    low = hmic_most(0, low);
    high = hmic_most(low, hmic_least(length, high));
    switch (axis) {
    case HMIC_RIGHTWARD:
        box.right = box.left + high;
        box.left += low;
        break;
    case HMIC_LEFTWARD:
        box.left = box.right - high;
        box.right -= low;
        break;
    case HMIC_UPWARD:
        box.top = box.bottom - high;
        box.bottom -= low;
        break;
    default:
        box.bottom = box.top + high;
        box.top += low;
        break;
    }
    return box;
}

/* The coverages of a row of a mask, one after the other. */
typedef struct coverages {
    hmic_runs runs;
    hmic_run run;
    uint32_t place;
} coverages;

static uint32_t next_level(coverages *row)
{
    while (row->place >= row->run.count) {
        row->place = 0;
        if (!hmic_next_run(&row->runs, &row->run))
            return 0;
    }
    switch (row->run.kind) {
    case HMIC_CLEAR:
        row->place++;
        return 0;
    case HMIC_FULL:
        row->place++;
        return FULL_LEVEL;
    default:
        return 17 * hmic_coverage(row->run.soft, row->place++);
    }
}

static coverages coverages_of(hmic_rows *rows, uint32_t row, int32_t skipped)
{
    coverages levels;
    levels.runs = runs_of(rows, row);
    levels.run.count = 0;
    levels.run.kind = HMIC_CLEAR;
    levels.place = 0;
    while (skipped-- > 0)
        next_level(&levels);
    return levels;
}

static hmic_values values_of(hmic_rows *rows, uint32_t row, int32_t skipped)
{
    hmic_values values;
    values.at = hmic_rows_seek(rows, row);
    values.count = 0;
    values.alike = false;
    values.plain = rows->form == HMIC_PLAIN;
    hmic_skip_values(&values, (uint32_t)skipped);
    return values;
}

static uint32_t uncovered(uint32_t reach, uint32_t threshold, uint32_t edge)
{
    uint32_t part = reach <= threshold ? 0 : reach - threshold;
    if (part >= edge)
        return FULL_LEVEL;
    return part ? (part * 255 + edge / 2) / edge : 0;
}

static void paint_mapped(const struct brush *brush, const uint8_t *record, uint32_t step)
{
    hmic_area box = box_of(record), part;
    const uint8_t *plane = hmic_record(brush->pack, HMIC_MAPS, hmic_u16(record + 28), HMIC_PLANE_SIZE);
    hmic_rows map = hmic_rows_of(brush->pack->data + brush->pack->at[HMIC_PLANES] + hmic_u32(plane + 8),
                                 hmic_u16(plane), hmic_u16(plane + 2), plane[4], false);
    uint32_t reach = step * hmic_u16(record + 30), edge = hmic_u16(record + 32);
    bool shaped = hmic_u16(record + 26) != HMIC_NONE;
    hmic_rows mask = shaped ? mask_of(brush->pack, hmic_u16(record + 26)) : map;
    int32_t x, y;
    part = meet(brush->clip, area_of(box.left, box.top, (int32_t)map.width, (int32_t)map.height));
    part = meet(part, area_of(box.left, box.top, (int32_t)mask.width, (int32_t)mask.height));
    for (y = part.top; part.left < part.right && y < part.bottom; y++) {
        hmic_values thresholds = values_of(&map, (uint32_t)(y - box.top), part.left - box.left);
        coverages own;
        if (shaped)
            own = coverages_of(&mask, (uint32_t)(y - box.top), part.left - box.left);
        for (x = part.left; x < part.right; x++) {
            uint32_t level = uncovered(reach, hmic_next_value(&thresholds), edge);
            if (shaped)
                level = div255(level * next_level(&own));
            spot(brush, x, y, level);
        }
    }
}

static void paint_reveal(struct brush *brush, const uint8_t *record, uint32_t state)
{
    hmic_area box = box_of(record), clip = brush->clip;
    uint32_t mask = hmic_u16(record + 26);
    if (state == HMIC_LIVE) {
        uint32_t step = value_of(brush, hmic_u16(record + 20)) - HMIC_LIVE;
        int32_t zero = (int32_t)hmic_u16(record + 24);
        if (record[22] == HMIC_MAPPED) {
            paint_mapped(brush, record, step);
            return;
        }
        brush->clip = meet(clip, stretch(box, record[22], hmic_least(zero, (int32_t)step),
                                         hmic_most(zero, (int32_t)step)));
    }
    if (mask != HMIC_NONE)
        stamp(brush, mask, box.left, box.top, state);
    else
        flat(brush, box, state);
    brush->clip = clip;
}

static hmic_area slide_place(const hmic_pack *pack, const uint8_t *record, uint32_t step)
{
    hmic_area box = box_of(record);
    const uint8_t *plane = hmic_record(pack, HMIC_MASKS, hmic_u16(record + 24), HMIC_PLANE_SIZE);
    int32_t width = (int32_t)hmic_u16(plane), height = (int32_t)hmic_u16(plane + 2);
    int32_t left = box.left, top = box.top, far = (int32_t)step;
    switch (record[22]) {
    case HMIC_RIGHTWARD:
        left += far;
        break;
    case HMIC_LEFTWARD:
        left = box.right - far - width;
        break;
    case HMIC_UPWARD:
        top = box.bottom - far - height;
        break;
    default:
        top += far;
        break;
    }
    return area_of(left, top, width, height);
}

static void paint_slide(const struct brush *brush, const uint8_t *record)
{
    hmic_area place =
        slide_place(brush->pack, record, value_of(brush, hmic_u16(record + 20)) - HMIC_LIVE);
    stamp(brush, hmic_u16(record + 24), place.left, place.top, HMIC_LIVE);
}

/* ---- pointers ---- */

typedef struct polygon {
    const uint8_t *corners;
    uint32_t count;
} polygon;

static polygon polygon_of(const hmic_pack *pack, const uint8_t *record, uint32_t step)
{
    const uint8_t *outline = hmic_record(pack, HMIC_OUTLINES, hmic_u16(record + 22), 8);
    polygon shape;
    shape.count = hmic_u16(outline);
    shape.corners =
        hmic_record(pack, HMIC_CORNERS, hmic_u32(outline + 4) + step * shape.count, HMIC_CORNER_SIZE);
    return shape;
}

/* The pixels that a polygon may touch, from the corner of its box. */
static hmic_area reach_of(polygon shape)
{
    hmic_area area = {0x7FFF, 0x7FFF, 0, 0};
    uint32_t number;
    for (number = 0; number < shape.count; number++) {
        int32_t x = (int32_t)hmic_u16(shape.corners + 4 * number) / 16;
        int32_t y = (int32_t)hmic_u16(shape.corners + 4 * number + 2) / 16;
        area.left = hmic_least(area.left, x);
        area.top = hmic_least(area.top, y);
        area.right = hmic_most(area.right, x + 1);
        area.bottom = hmic_most(area.bottom, y + 1);
    }
    return area;
}

static int32_t divided_down(int32_t value, int32_t by)
{
    int32_t quotient = value / by;
    return value % by < 0 ? quotient - 1 : quotient;
}

/* The samples low <= k < high of a row that lie in the polygon, of those given. */
static void sample_span(polygon shape, int32_t y, int32_t *low, int32_t *high)
{
    uint32_t number;
    for (number = 0; number < shape.count && *low < *high; number++) {
        const uint8_t *a = shape.corners + 4 * number;
        const uint8_t *b = shape.corners + 4 * (number + 1 < shape.count ? number + 1 : 0);
        int32_t ax = (int32_t)hmic_u16(a), ay = (int32_t)hmic_u16(a + 2);
        int32_t dx = (int32_t)hmic_u16(b) - ax, dy = (int32_t)hmic_u16(b + 2) - ay;
        int32_t room = dx * (y - ay) + dy * (ax - 2);
        if (dy > 0)
            *high = hmic_least(*high, divided_down(room, 4 * dy) + 1);
        else if (dy < 0)
            *low = hmic_most(*low, -divided_down(room, -4 * dy));
        else if (room < 0)
            *high = *low;
    }
}

static int32_t shared(int32_t low, int32_t high, int32_t from)
{
    return hmic_most(0, hmic_least(high, from + 4) - hmic_most(low, from));
}

static void paint_pointer(const struct brush *brush, const uint8_t *record)
{
    hmic_area box = box_of(record), part;
    polygon shape =
        polygon_of(brush->pack, record, value_of(brush, hmic_u16(record + 20)) - HMIC_LIVE);
    int32_t x, y, row, low[4], high[4];
    part = reach_of(shape);
    part = meet(brush->clip, area_of(box.left + part.left, box.top + part.top, part.right - part.left,
                                     part.bottom - part.top));
    for (y = part.top; part.left < part.right && y < part.bottom; y++) {
        int32_t first = part.right, end = part.left;
        for (row = 0; row < 4; row++) {
            low[row] = 4 * (part.left - box.left);
            high[row] = 4 * (part.right - box.left);
            sample_span(shape, 16 * (y - box.top) + 4 * row + 2, &low[row], &high[row]);
            if (low[row] < high[row]) {
                first = hmic_least(first, box.left + low[row] / 4);
                end = hmic_most(end, box.left + (high[row] + 3) / 4);
            }
        }
        for (x = first; x < end; x++) {
            int32_t from = 4 * (x - box.left), count = 0;
            for (row = 0; row < 4; row++)
                count += shared(low[row], high[row], from);
            spot(brush, x, y, 17 * (((uint32_t)count * 15 + 8) / 16));
        }
    }
}

/* ---- traces ---- */

/* A shift right that rounds toward minus infinity, whatever the compiler does with negative numbers. */
static int32_t shifted(int32_t value, uint32_t by)
{
    return value < 0 ? -(int32_t)((~(uint32_t)value >> by) + 1) : (int32_t)((uint32_t)value >> by);
}

/* The line in one column of pixels: its lower and upper end, in sixteenths from the bottom. */
static void stroke(const struct brush *brush, hmic_area box, int32_t x, int32_t low, int32_t high)
{
    int32_t row = low / 16, end = (high - 1) / 16;
    row = hmic_most(row, box.bottom - brush->clip.bottom);
    end = hmic_least(end, box.bottom - 1 - brush->clip.top);
    for (; row <= end; row++) {
        int32_t covered = hmic_least(high, 16 * row + 16) - hmic_most(low, 16 * row);
        spot(brush, x, box.bottom - 1 - row, ((uint32_t)covered * 255 + 8) / 16);
    }
}

/* One column that is live, from height g to h. */
static void paint_column(const struct brush *brush, hmic_area box, int32_t left, int32_t width, int32_t g, int32_t h,
                         int32_t thickness)
{
    int32_t reach = (thickness - 1) / 2, x = hmic_most(left, brush->clip.left);
    int32_t end = hmic_least(left + width, brush->clip.right);
    int32_t bottom = 16 * (box.bottom - brush->clip.bottom), top = 16 * (box.bottom - brush->clip.top);
    int32_t slope;
    if (hmic_least(g, h) >= top || hmic_most(g, h) + 16 * thickness <= bottom)
        return;
    slope = -divided_down((g - h) * 32768, width);
    for (; x < end; x++) {
        int32_t from = hmic_most(0, x - left - reach), to = hmic_least(width, x - left + 1 + reach);
        int32_t a = shifted(slope * from, 15), b = shifted(slope * to, 15), steep, wide, low;
        steep = a < b ? b - a : a - b;
        wide = hmic_most(16 * thickness - steep, 8 * thickness);
        low = g + hmic_least(a, b) + 8 * thickness - wide / 2;
        stroke(brush, box, x, low, low + steep + wide);
    }
}

static void paint_trace(struct brush *brush, const uint8_t *record, uint32_t state)
{
    hmic_area box = box_of(record);
    uint32_t first = hmic_u16(record + 20), columns = hmic_u16(record + 22), number, place, rise;
    uint32_t levels = hmic_u16(record + 26), ink_red_blue = brush->red_blue, ink_green = brush->green;
    int32_t thickness = (int32_t)hmic_u16(record + 28), left = box.left, width, before = -1;
    if (state != HMIC_LIVE) {
        hatched(brush, box, state);
        return;
    }
    width = (box.right - box.left) / (int32_t)columns;
    levels = levels > 1 ? levels - 1 : 1;
    rise = (uint32_t)(box.bottom - box.top - thickness) << 20;
    rise = rise / levels + (rise % levels != 0);
    place = (value_of(brush, hmic_u16(record + 24)) - HMIC_LIVE + 1) % columns;
    for (number = 0; number < columns && left < brush->clip.right; number++, left += width) {
        uint32_t value = value_of(brush, first + place);
        int32_t height = -1;
        if (++place == columns)
            place = 0;
        if (value >= HMIC_LIVE) {
            height = (int32_t)((value - HMIC_LIVE) * rise >> 16);
            if (left + width > brush->clip.left)
                paint_column(brush, box, left, width, before < 0 ? height : before, height, thickness);
        } else if (left + width > brush->clip.left) {
            int32_t rows = hmic_least(GAP_ROWS, box.bottom - box.top);
            dip(brush, DOUBT);
            hatched(brush, area_of(left, box.bottom - rows, width, rows), value);
            brush->red_blue = ink_red_blue;
            brush->green = ink_green;
        }
        before = height;
    }
}

/* ---- flows, pictures, letters ---- */

static uint32_t phase_of(const uint8_t *record, uint32_t step, uint32_t clock)
{
    uint32_t pitch = hmic_u16(record + 26);
    return clock % (1000 * pitch) * (step * hmic_u16(record + 30)) / 1000 % pitch;
}

static void paint_flow(const struct brush *brush, const uint8_t *record)
{
    hmic_area box = box_of(record);
    bool upright = record[22] == HMIC_UPWARD || record[22] == HMIC_DOWNWARD;
    int32_t length = upright ? box.bottom - box.top : box.right - box.left;
    int32_t pitch = (int32_t)hmic_u16(record + 26), mark = (int32_t)hmic_u16(record + 28);
    uint32_t step = value_of(brush, hmic_u16(record + 20)) - HMIC_LIVE;
    int32_t start = (int32_t)phase_of(record, step, brush->moment->clock);
    start = (start + pitch - (int32_t)hmic_u16(record + 24) % pitch) % pitch - pitch;
    for (; start < length; start += pitch)
        solid(brush, stretch(box, record[22], start, start + mark));
}

static void paint_picture(struct brush *brush, const uint8_t *record)
{
    hmic_area box = box_of(record), part;
    const hmic_pack *pack = brush->pack;
    const uint8_t *held = hmic_record(pack, HMIC_PICTURES, hmic_u16(record + 20), HMIC_PICTURE_SIZE);
    const uint8_t *planes = pack->data + pack->at[HMIC_PLANES];
    uint32_t width = hmic_u16(held), height = hmic_u16(held + 2);
    hmic_rows parts = hmic_rows_of(planes + hmic_u32(held + 8), width, 2 * height, held[4], false);
    hmic_rows soft = hmic_rows_of(planes + hmic_u32(held + 16), width, height, held[5], true);
    bool full = held[5] == HMIC_NO_PLANE;
    int32_t x, y;
    part = meet(brush->clip, area_of(box.left, box.top, (int32_t)width, (int32_t)height));
    for (y = part.top; part.left < part.right && y < part.bottom; y++) {
        uint32_t row = (uint32_t)(y - box.top);
        int32_t skipped = part.left - box.left;
        hmic_values high = values_of(&parts, 2 * row, skipped), low = values_of(&parts, 2 * row + 1, skipped);
        coverages levels;
        if (!full)
            levels = coverages_of(&soft, row, skipped);
        for (x = part.left; x < part.right; x++) {
            uint32_t word = hmic_next_value(&high) << 8;
            word |= hmic_next_value(&low);
            dip_word(brush, word);
            if (!brush->words) {
                uint32_t red = word >> 11, blue = word & 31u;
                brush->red_blue = (red << 3 | red >> 2) << 16 | blue << 3 | blue >> 2;
                brush->green = brush->green << 2 | brush->green >> 4;
            }
            spot(brush, x, y, full ? FULL_LEVEL : next_level(&levels));
        }
    }
}

static void paint_letters(struct brush *brush, const uint8_t *record, uint32_t state)
{
    hmic_area box = box_of(record);
    const hmic_pack *pack = brush->pack;
    const uint8_t *set = hmic_record(pack, HMIC_LETTER_SETS, hmic_u16(record + 24), HMIC_LETTER_SET_SIZE);
    uint32_t first = hmic_u16(record + 20), place;
    uint32_t count = state == HMIC_LIVE ? hmic_u16(record + 22) : DOUBT_LETTERS;
    int32_t pen = box.left;
    for (place = 0; place < count && pen < box.right; place++) {
        uint32_t value = state == HMIC_LIVE ? value_of(brush, first + place) : state;
        const uint8_t *letter;
        if (value == HMIC_LIVE)
            return;
        if (value > HMIC_LIVE) {
            letter = hmic_record(pack, HMIC_LETTERS, hmic_u32(set + 4) + value - HMIC_LIVE - 1,
                                 HMIC_LETTER_SIZE);
        } else {
            letter = set + 8 + value * HMIC_LETTER_SIZE;
            dip(brush, DOUBT);
        }
        stamp_glyph(brush, letter, pen, box.top);
        if (value < HMIC_LIVE && state == HMIC_LIVE)
            return;
        pen += (int32_t)hmic_u16(letter + 6);
    }
}

/* ---- a frame ---- */

/* What decides whether and how an operation is painted. */
struct look {
    bool visible;
    uint32_t state, entry, leading;
};

static uint32_t leading_channel(const uint8_t *record)
{
    switch (record[0]) {
    case HMIC_FIGURES:
    case HMIC_REVEAL:
    case HMIC_SLIDE:
    case HMIC_POINTER:
    case HMIC_FLOW:
    case HMIC_LETTER_ROW:
        return hmic_u16(record + 20);
    case HMIC_TRACE:
        return hmic_u16(record + 24);
    default:
        return HMIC_NONE;
    }
}

static bool lit(uint32_t clock) { return clock / HALF_BEAT % 2 == 0; }

static struct look look_of(const hmic_pack *pack, const uint8_t *record, const hmic_moment *moment)
{
    struct look look = {true, HMIC_LIVE, DOUBT, 0};
    uint32_t when = hmic_u16(record + 14), tint = hmic_u16(record + 12), leading = leading_channel(record);
    uint32_t value = HMIC_LIVE;
    if (when != HMIC_NONE) {
        uint32_t raw = raw_of(pack, moment->raw, when);
        look.visible = raw >= hmic_u16(record + 16) && raw <= hmic_u16(record + 18);
    }
    if (leading != HMIC_NONE) {
        look.leading = raw_of(pack, moment->raw, leading);
        look.state = look.leading < HMIC_LIVE ? look.leading : HMIC_LIVE;
    }
    if (tint != HMIC_NONE)
        value = raw_of(pack, moment->raw, tint);
    if (look.state == HMIC_LIVE && value < HMIC_LIVE)
        look.state = value;
    if (look.state == HMIC_LIVE) {
        look.entry = hmic_u16(record + 10) + value - HMIC_LIVE;
        if (record[0] == HMIC_STENCIL && record[1] && !lit(moment->clock))
            look.visible = false;
    } else {
        look.leading = 0;
    }
    return look;
}

/* A kind that the settings leave out takes no code: the compiler sees that it is never painted. */
static bool has(uint32_t kind) { return HMIC_KINDS >> kind & 1u; }

static void paint_moving(const struct brush *brush, const uint8_t *record)
{
    if (has(HMIC_SLIDE) && record[0] == HMIC_SLIDE)
        paint_slide(brush, record);
    if (has(HMIC_POINTER) && record[0] == HMIC_POINTER)
        paint_pointer(brush, record);
    if (has(HMIC_FLOW) && record[0] == HMIC_FLOW)
        paint_flow(brush, record);
}

static void paint_operation(struct brush *brush, const uint8_t *record, uint32_t state)
{
    hmic_area box = box_of(record);
    uint32_t kind = record[0];
    if (has(HMIC_FILL) && kind == HMIC_FILL)
        flat(brush, box, state);
    else if (has(HMIC_STENCIL) && kind == HMIC_STENCIL)
        stamp(brush, hmic_u16(record + 20), box.left, box.top, state);
    else if (has(HMIC_RUN) && kind == HMIC_RUN)
        paint_run(brush, record);
    else if (has(HMIC_FRAME) && kind == HMIC_FRAME)
        paint_frame(brush, record, state);
    else if (has(HMIC_FIGURES) && kind == HMIC_FIGURES)
        paint_figures(brush, record, state);
    else if (has(HMIC_REVEAL) && kind == HMIC_REVEAL)
        paint_reveal(brush, record, state);
    else if (has(HMIC_TRACE) && kind == HMIC_TRACE)
        paint_trace(brush, record, state);
    else if (has(HMIC_PICTURE) && kind == HMIC_PICTURE)
        paint_picture(brush, record);
    else if (has(HMIC_LETTER_ROW) && kind == HMIC_LETTER_ROW)
        paint_letters(brush, record, state);
    else if (state == HMIC_LIVE)
        paint_moving(brush, record);
}

static const uint8_t *operations_of(const hmic_pack *pack, uint32_t screen, uint32_t *count)
{
    const uint8_t *record = hmic_record(pack, HMIC_SCREENS, screen, HMIC_SCREEN_SIZE);
    *count = hmic_u16(record + 6);
    return hmic_record(pack, HMIC_OPERATIONS, hmic_u32(record + 8), HMIC_OPERATION_SIZE);
}

void hmic_paint(const hmic_pack *pack, const hmic_moment *moment, hmic_area area, void *pixels)
{
    struct brush brush;
    uint32_t count;
    const uint8_t *record = operations_of(pack, moment->screen, &count);
    brush.pack = pack;
    brush.moment = moment;
    brush.palette = hmic_record(pack, HMIC_COLOURS, (uint32_t)moment->theme * pack->colours, 3);
    brush.pixels = pixels;
    brush.panel = brush.clip = area;
    brush.stride = area.right - area.left;
    brush.words = pack->depth == 16;
    dip(&brush, GROUND);
    solid(&brush, area);
    for (; count; count--, record += HMIC_OPERATION_SIZE) {
        struct look look;
        brush.clip = meet(area, box_of(record));
        if (empty(brush.clip))
            continue;
        look = look_of(pack, record, moment);
        if (!look.visible)
            continue;
        dip(&brush, look.entry);
        paint_operation(&brush, record, look.state);
    }
}

/* ---- what changed ---- */

static int32_t size_of(hmic_area area) { return (area.right - area.left) * (area.bottom - area.top); }

static hmic_area around(hmic_area one, hmic_area other)
{
    hmic_area both;
    both.left = hmic_least(one.left, other.left);
    both.top = hmic_least(one.top, other.top);
    both.right = hmic_most(one.right, other.right);
    both.bottom = hmic_most(one.bottom, other.bottom);
    return both;
}

void hmic_areas_add(hmic_areas *areas, hmic_area area)
{
    uint32_t number, best;
    int32_t least;
    if (empty(area))
        return;
    for (;;) {
        best = 0;
        least = 0x7FFFFFFF;
        for (number = 0; number < areas->count; number++) {
            hmic_area other = areas->list[number];
            int32_t lost = size_of(around(area, other)) - size_of(area) - size_of(other);
            if (lost < least) {
                least = lost;
                best = number;
            }
        }
        /* Joined when an eighth of both at most is painted for nothing, or when there is no place left. */
        if (areas->count == 0 ||
            (areas->count < HMIC_MOST_AREAS &&
             least > (size_of(area) + size_of(areas->list[best])) / 8))
            break;
        area = around(area, areas->list[best]);
        areas->list[best] = areas->list[--areas->count];
    }
    areas->list[areas->count++] = area;
}

/* Whether a row of channels, of a trace or of letters, reads otherwise. */
static bool row_differs(const hmic_pack *pack, const uint8_t *record, const hmic_moment *before,
                        const hmic_moment *after)
{
    uint32_t first = hmic_u16(record + 20), count = hmic_u16(record + 22);
    if (record[0] != HMIC_TRACE && record[0] != HMIC_LETTER_ROW)
        return false;
    for (; count; count--, first++)
        if (raw_of(pack, before->raw, first) != raw_of(pack, after->raw, first))
            return true;
    return false;
}

static hmic_area moved(hmic_area box, hmic_area part)
{
    return area_of(box.left + part.left, box.top + part.top, part.right - part.left, part.bottom - part.top);
}

/* Where an operation whose leading value alone has changed, and which is live, looks otherwise. */
static void add_motion(const hmic_pack *pack, const uint8_t *record, uint32_t was, uint32_t is,
                       hmic_areas *areas)
{
    hmic_area box = box_of(record);
    was -= HMIC_LIVE;
    is -= HMIC_LIVE;
    switch (record[0]) {
    case HMIC_REVEAL:
        if (record[22] != HMIC_MAPPED)
            box = stretch(box, record[22], hmic_least((int32_t)was, (int32_t)is),
                          hmic_most((int32_t)was, (int32_t)is));
        break;
    case HMIC_SLIDE:
        hmic_areas_add(areas, meet(box, slide_place(pack, record, was)));
        box = meet(box, slide_place(pack, record, is));
        break;
    case HMIC_POINTER:
        hmic_areas_add(areas, meet(box, moved(box, reach_of(polygon_of(pack, record, was)))));
        box = meet(box, moved(box, reach_of(polygon_of(pack, record, is))));
        break;
    default:
        break;
    }
    hmic_areas_add(areas, box);
}

static void add_operation(const hmic_pack *pack, const uint8_t *record, const hmic_moment *before,
                          const hmic_moment *after, hmic_areas *areas)
{
    struct look was = look_of(pack, record, before), is = look_of(pack, record, after);
    bool alike;
    if (!was.visible && !is.visible)
        return;
    alike = was.visible == is.visible && was.state == is.state && was.entry == is.entry;
    if (alike && is.state != HMIC_LIVE)
        return;
    if (alike && !row_differs(pack, record, before, after)) {
        if (was.leading != is.leading)
            add_motion(pack, record, was.leading, is.leading, areas);
        else if (record[0] == HMIC_FLOW && phase_of(record, is.leading - HMIC_LIVE, before->clock) !=
                                               phase_of(record, is.leading - HMIC_LIVE, after->clock))
            hmic_areas_add(areas, box_of(record));
        return;
    }
    hmic_areas_add(areas, box_of(record));
}

void hmic_changed(const hmic_pack *pack, const hmic_moment *before, const hmic_moment *after,
                  hmic_areas *areas)
{
    uint32_t count;
    const uint8_t *record = operations_of(pack, after->screen, &count);
    for (; count; count--, record += HMIC_OPERATION_SIZE)
        add_operation(pack, record, before, after, areas);
}
