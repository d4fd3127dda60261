#include "hmic_paint.h"

#include "hmic_planes.h"

enum { GROUND = 0, DOUBT = 1, FULL_LEVEL = 255, HALF_BEAT = 500, GAP_ROWS = 8, DOUBT_LETTERS = 3 };
enum { MARK_UNSEEN = 12, MINUS = 10, PLUS = 11, FIRST_POINT = 15, NO_FIGURE = 18 };

/* Pixels of a row in the full ink that are painted one by one; more are copied. */
enum { ONE_BY_ONE = 16 };

/* Kinds whose whole shape is hatched in doubt. The others show marks, go on, or vanish. */
enum { HATCHED = 1 << HMIC_FILL | 1 << HMIC_STENCIL | 1 << HMIC_FRAME | 1 << HMIC_REVEAL | 1 << HMIC_TRACE };
enum { VANISHING = 1 << HMIC_SLIDE | 1 << HMIC_POINTER | 1 << HMIC_FLOW };

/* Where paint goes, in what colour, and for which operation. Red and blue are blended together, 16 bits apart. */
struct brush {
    uint32_t entry, red_blue, green;
    uint32_t state;        /* live, or the doubt through whose hatch the ink is seen */
    const uint8_t *record; /* of the operation at hand */
    hmic_area box, clip;   /* its box, and what of it may be painted */
    int32_t left, top;     /* of the part of the panel that the pixels are */
    int32_t stride, size;  /* pixels of a row of it, bytes of a pixel */
    uint8_t *pixels;
    const hmic_pack *pack;
    const hmic_moment *moment;
    const uint8_t *palette;
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

/* Makes an area smaller; false if nothing of it is left. */
static bool clipped(hmic_area *area, const hmic_area *by)
{
    area->left = hmic_most(area->left, by->left);
    area->top = hmic_most(area->top, by->top);
    area->right = hmic_least(area->right, by->right);
    area->bottom = hmic_least(area->bottom, by->bottom);
    return area->left < area->right && area->top < area->bottom;
}

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

static uint8_t *pixel(const struct brush *brush, int32_t x, int32_t y)
{
    return brush->pixels + ((y - brush->top) * brush->stride + x - brush->left) * brush->size;
}

/* Red and blue of a 16-bit pixel, 16 bits apart. */
static uint32_t red_blue_of(uint32_t word) { return (word >> 11) << 16 | (word & 31u); }

static uint32_t green_of(uint32_t word) { return word >> 5 & 63u; }

/* Pixels of 16 bits are aligned, as the caller's memory for them is. */
static uint16_t *word_at(uint8_t *at) { return (uint16_t *)(void *)at; }

static void store(const struct brush *brush, uint8_t *at, uint32_t red_blue, uint32_t green)
{
    if (brush->size == 2) {
        *word_at(at) = (uint16_t)((red_blue >> 16) << 11 | green << 5 | (red_blue & 31u));
    } else {
        at[0] = (uint8_t)(red_blue >> 16);
        at[1] = (uint8_t)green;
        at[2] = (uint8_t)red_blue;
    }
}

static void dip(struct brush *brush, uint32_t entry)
{
    const uint8_t *colour = brush->palette + 3 * entry;
    uint32_t lost = brush->size == 2 ? 3 : 0;
    brush->entry = entry;
    brush->red_blue = (uint32_t)(colour[0] >> lost) << 16 | (uint32_t)(colour[2] >> lost);
    brush->green = lost ? colour[1] >> 2 : colour[1];
}

/* The ink is the colour of a picture's pixel. */
static void dip_word(struct brush *brush, uint32_t word)
{
    brush->red_blue = red_blue_of(word);
    brush->green = green_of(word);
    if (brush->size == 3) {
        brush->red_blue = brush->red_blue << 3 | (brush->red_blue >> 2 & 0x00070007u);
        brush->green = brush->green << 2 | brush->green >> 4;
    }
}

/* Blends the ink into one pixel: two parts at once, since no part's sum leaves its 16 bits. */
static void blend(const struct brush *brush, uint8_t *at, uint32_t level)
{
    uint32_t pair = brush->red_blue, green = brush->green, rest = FULL_LEVEL - level, under, one;
    if (!level)
        return;
    if (rest) {
        if (brush->size == 2) {
            under = red_blue_of(*word_at(at));
            one = green_of(*word_at(at));
        } else {
            under = (uint32_t)at[0] << 16 | at[2];
            one = at[1];
        }
        pair = under * rest + pair * level + 0x00800080u;
        pair = (pair + (pair >> 8 & 0x00FF00FFu)) >> 8 & 0x00FF00FFu;
        green = div255(one * rest + green * level);
    }
    store(brush, at, pair, green);
}

/* One pixel, seen through the hatch of doubt if there is one. */
static void spot(const struct brush *brush, int32_t x, int32_t y, uint32_t level)
{
    if (brush->state != HMIC_LIVE)
        level = div255(level * (17 * (hatches[brush->state][y & 7] >> ((uint32_t)(x & 7) * 4) & 15u)));
    blend(brush, pixel(brush, x, y), level);
}

/* Pixels from..to of a row in the full ink; the caller has clipped. */
static void span(const struct brush *brush, int32_t from, int32_t to, int32_t y)
{
    int32_t left = to - from, done, size = brush->size;
    uint8_t *begin = pixel(brush, from, y), *at = begin;
    if (brush->state != HMIC_LIVE) {
        for (; from < to; from++)
            spot(brush, from, y, FULL_LEVEL);
        return;
    }
    if (left <= 0)
        return;
    store(brush, at, brush->red_blue, brush->green);
    if (size == 2) {
        uint16_t word = *word_at(at), *next = word_at(at);
        for (done = hmic_least(left, ONE_BY_ONE); done; done--)
            *next++ = word;
    } else {
        for (done = hmic_least(left, ONE_BY_ONE) - 1; done; done--, at += 3) {
            at[3] = at[0];
            at[4] = at[1];
            at[5] = at[2];
        }
    }
    for (done = ONE_BY_ONE; done < left; done *= 2)
        memcpy(begin + done * size, begin, (size_t)(hmic_least(done, left - done) * size));
}

static void solid(const struct brush *brush, const hmic_area *area)
{
    hmic_area part = brush->clip;
    if (clipped(&part, area))
        for (; part.top < part.bottom; part.top++)
            span(brush, part.left, part.right, part.top);
}

/* ---- masks ---- */

/* A plane whose data a record places; of form HMIC_NO_PLANE it is a mask that covers all, without data. */
static void open_rows(hmic_rows *rows, const hmic_pack *pack, const uint8_t *place, uint32_t width, uint32_t height,
                      uint32_t form)
{
    rows->data = pack->data + pack->at[HMIC_PLANES] + hmic_u32(place);
    rows->mask = true;
    rows->width = width;
    rows->height = height;
    rows->form = form;
    hmic_rows_begin(rows);
}

static void open_plane(hmic_rows *rows, const hmic_pack *pack, enum hmic_section section, uint32_t number)
{
    const uint8_t *record = hmic_record(pack, section, number, HMIC_PLANE_SIZE);
    open_rows(rows, pack, record + 8, hmic_u16(record), hmic_u16(record + 2), record[4]);
}

static void open_mask(hmic_rows *rows, const hmic_pack *pack, uint32_t number)
{
    static const uint8_t nowhere[4] = {0, 0, 0, 0};
    if (number == HMIC_NONE)
        open_rows(rows, pack, nowhere, 0x7FFF, 0x7FFF, HMIC_NO_PLANE);
    else
        open_plane(rows, pack, HMIC_MASKS, number);
}

static hmic_area plane_area(const hmic_rows *rows, int32_t left, int32_t top)
{
    return area_of(left, top, (int32_t)rows->width, (int32_t)rows->height);
}

static void begin_runs(hmic_runs *runs, hmic_rows *rows, int32_t row)
{
    runs->at = hmic_rows_seek(rows, (uint32_t)row);
    runs->left = rows->width;
    runs->form = rows->form;
}

/* A run of a mask whose first pixel stands at x. */
static void lay_run(const struct brush *brush, const hmic_run *run, int32_t x, int32_t y)
{
    int32_t from = hmic_most(x, brush->clip.left), to = hmic_least(x + (int32_t)run->count, brush->clip.right);
    uint8_t *at;
    if (run->kind == HMIC_FULL)
        span(brush, from, to, y);
    if (run->kind != HMIC_SOFT)
        return;
    at = pixel(brush, from, y);
    for (; from < to; from++, at += brush->size) {
        uint32_t level = 17 * hmic_coverage(run->soft, (uint32_t)(from - x));
        if (brush->state == HMIC_LIVE)
            blend(brush, at, level);
        else
            spot(brush, from, y, level);
    }
}

/* A mask with its corner at (left, top). */
static void stamp(const struct brush *brush, uint32_t mask, int32_t left, int32_t top)
{
    hmic_rows rows;
    hmic_area part;
    int32_t x, y;
    open_mask(&rows, brush->pack, mask);
    part = plane_area(&rows, left, top);
    if (!clipped(&part, &brush->clip))
        return;
    for (y = part.top; y < part.bottom; y++) {
        hmic_runs runs;
        hmic_run run;
        begin_runs(&runs, &rows, y - top);
        for (x = left; x < part.right && hmic_next_run(&runs, &run); x += (int32_t)run.count)
            lay_run(brush, &run, x, y);
    }
}

static void stamp_glyph(const struct brush *brush, const uint8_t *glyph, int32_t left, int32_t top)
{
    stamp(brush, hmic_u16(glyph), left + hmic_i16(glyph + 2), top + hmic_i16(glyph + 4));
}

/* The coverages of a row of a mask, one after the other. */
typedef struct coverages {
    hmic_runs runs;
    hmic_run run;
    uint32_t place;
} coverages;

static uint32_t next_level(coverages *row)
{
    uint32_t place;
    while (row->place >= row->run.count) {
        row->place = 0;
        if (!hmic_next_run(&row->runs, &row->run))
            return 0;
    }
    place = row->place++;
    if (row->run.kind == HMIC_SOFT)
        return 17 * hmic_coverage(row->run.soft, place);
    return row->run.kind == HMIC_FULL ? FULL_LEVEL : 0;
}

static void begin_levels(coverages *levels, hmic_rows *rows, int32_t row, int32_t skipped)
{
    begin_runs(&levels->runs, rows, row);
    levels->run.count = levels->place = 0;
    while (skipped-- > 0)
        next_level(levels);
}

static void begin_values(hmic_values *values, hmic_rows *rows, int32_t row, int32_t skipped)
{
    values->at = hmic_rows_seek(rows, (uint32_t)row);
    values->count = rows->form == HMIC_PLAIN ? rows->width : 0;
    values->alike = false;
    hmic_skip_values(values, (uint32_t)skipped);
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

static void corner_spot(const struct brush *brush, int32_t x, int32_t y, uint32_t level)
{
    if (x >= brush->clip.left && x < brush->clip.right)
        spot(brush, x, y, level);
}

/* The mask is the upper left corner; each half of a row has its own, the left one the middle pixel. */
static void paint_frame(const struct brush *brush)
{
    hmic_area row = brush->box;
    hmic_rows rows;
    int32_t y, place, left;
    open_mask(&rows, brush->pack, hmic_u16(brush->record + 20));
    left = hmic_least((int32_t)rows.width, (row.right - row.left + 1) / 2);
    for (y = brush->clip.top; y < brush->clip.bottom; y++) {
        int32_t down = hmic_least(y - brush->box.top, brush->box.bottom - 1 - y);
        row.left = brush->box.left;
        row.right = brush->box.right;
        if (left && down < (int32_t)rows.height) {
            coverages levels;
            begin_levels(&levels, &rows, down, 0);
            for (place = 0; place < left; place++) {
                uint32_t level = next_level(&levels);
                corner_spot(brush, row.left++, y, level);
                if (row.left < row.right)
                    corner_spot(brush, --row.right, y, level);
            }
        }
        span(brush, hmic_most(row.left, brush->clip.left), hmic_least(row.right, brush->clip.right), y);
    }
}

static void paint_run(const struct brush *brush)
{
    const uint8_t *glyph = hmic_record(brush->pack, HMIC_GLYPHS, hmic_u32(brush->record + 20), HMIC_GLYPH_SIZE);
    uint32_t left = hmic_u16(brush->record + 24);
    for (; left; left--, glyph += HMIC_GLYPH_SIZE)
        stamp_glyph(brush, glyph, brush->box.left, brush->box.top);
}

/* ---- figures ---- */

/* The figures of a number, from the right. */
typedef struct figures {
    const uint8_t *record, *set;
    uint32_t rest, places, least; /* what is left of the number; places done, and to be done at least */
    uint32_t mark, point, sign;   /* in doubt the mark of each place; what else is still to come */
    int32_t pen;                  /* the left edge of the last one */
} figures;

static void begin_figures(figures *row, const hmic_pack *pack, const uint8_t *record, uint32_t value)
{
    uint32_t after = record[35];
    int32_t number = hmic_i32(record + 24) + hmic_i32(record + 28) * (int32_t)(value - HMIC_LIVE);
    row->record = record;
    row->set = hmic_record(pack, HMIC_FIGURE_SETS, hmic_u16(record + 22), HMIC_FIGURE_SET_SIZE);
    row->rest = row->places = 0;
    row->least = record[33];
    row->mark = MARK_UNSEEN + value;
    row->point = row->sign = NO_FIGURE;
    row->pen = box_of(record).right;
    if (value < HMIC_LIVE)
        return;
    row->mark = NO_FIGURE;
    row->rest = number < 0 ? 0u - (uint32_t)number : (uint32_t)number;
    row->least = record[32] ? record[32] : 1;
    if (record[34] && after) {
        row->point = record[34];
        if (row->least <= after)
            row->least = after + 1;
    }
    if (number < 0)
        row->sign = MINUS;
    else if (number > 0 && record[1] & 1u)
        row->sign = PLUS;
}

/* The next figure's glyph; `pen` is then its left edge. NULL: no more. */
static const uint8_t *next_figure(figures *row)
{
    uint32_t figure = row->mark;
    const uint8_t *set = row->set;
    if (row->point != NO_FIGURE && row->record[1] & 4u)
        set += HMIC_FIGURE_SET_SIZE;
    if (row->places >= row->least && !row->rest) {
        figure = row->sign;
        row->sign = NO_FIGURE;
    } else if (row->point != NO_FIGURE && row->places == row->record[35]) {
        figure = row->point;
        row->point = NO_FIGURE;
    } else {
        if (figure == NO_FIGURE) {
            uint32_t radix = row->places == 1 && row->record[1] & 2u ? 6 : 10;
            figure = row->rest % radix;
            row->rest /= radix;
        }
        row->places++;
    }
    if (figure == NO_FIGURE)
        return NULL;
    row->pen -= (int32_t)hmic_u16(set + (figure >= FIRST_POINT ? 2 : 0));
    return set + 6 + figure * HMIC_GLYPH_SIZE;
}

static void paint_figures(const struct brush *brush, uint32_t value)
{
    figures row;
    const uint8_t *glyph;
    begin_figures(&row, brush->pack, brush->record, value);
    while ((glyph = next_figure(&row)) != NULL)
        stamp_glyph(brush, glyph, row.pen, brush->box.top);
}

/* ---- what moves ---- */

/* Makes of a box what stands from `low` to `high` along a straight axis, beyond the box too. */
static void stretch(hmic_area *box, uint32_t axis, int32_t low, int32_t high)
{
    bool upright = axis >= HMIC_UPWARD;
    int32_t *near = upright ? &box->top : &box->left, *far = upright ? &box->bottom : &box->right;
    if (axis == HMIC_LEFTWARD || axis == HMIC_UPWARD) {
        *near = *far - high;
        *far -= low;
    } else {
        *far = *near + high;
        *near += low;
    }
}

static uint32_t uncovered(uint32_t reach, uint32_t threshold, uint32_t edge)
{
    uint32_t part = reach <= threshold ? 0 : reach - threshold;
    if (part >= edge)
        return FULL_LEVEL;
    return part ? (part * 255 + edge / 2) / edge : 0;
}

/* Pixel by pixel: a picture, or what a map uncovers that `reach` has come to. */
static void paint_values(struct brush *brush, hmic_rows *rows, hmic_rows *mask, bool picture, uint32_t reach)
{
    hmic_area part = brush->clip, shape = plane_area(mask, brush->box.left, brush->box.top);
    uint32_t edge = hmic_u16(brush->record + 32);
    int32_t x, y;
    uint8_t *at;
    if (!clipped(&part, &shape))
        return;
    for (y = part.top; y < part.bottom; y++) {
        int32_t row = y - brush->box.top, skipped = part.left - brush->box.left;
        hmic_values values, low;
        coverages own;
        begin_values(&values, rows, picture ? 2 * row : row, skipped);
        if (picture)
            begin_values(&low, rows, 2 * row + 1, skipped);
        begin_levels(&own, mask, row, skipped);
        at = pixel(brush, part.left, y);
        for (x = part.left; x < part.right; x++, at += brush->size) {
            uint32_t value = hmic_next_value(&values), level = next_level(&own);
            if (picture)
                dip_word(brush, value << 8 | hmic_next_value(&low));
            else
                level = div255(level * uncovered(reach, value, edge));
            blend(brush, at, level);
        }
    }
}

static void paint_mapped(struct brush *brush, uint32_t step)
{
    const uint8_t *record = brush->record;
    hmic_rows map, mask;
    hmic_area shape;
    open_plane(&map, brush->pack, HMIC_MAPS, hmic_u16(record + 28));
    open_mask(&mask, brush->pack, hmic_u16(record + 26));
    shape = plane_area(&map, brush->box.left, brush->box.top);
    map.mask = false;
    if (clipped(&brush->clip, &shape))
        paint_values(brush, &map, &mask, false, step * hmic_u16(record + 30));
}

static void paint_reveal(struct brush *brush, uint32_t value)
{
    const uint8_t *record = brush->record;
    hmic_area part = brush->box;
    if (value >= HMIC_LIVE) {
        int32_t step = (int32_t)(value - HMIC_LIVE), zero = (int32_t)hmic_u16(record + 24);
        if (record[22] == HMIC_MAPPED) {
            paint_mapped(brush, (uint32_t)step);
            return;
        }
        stretch(&part, record[22], hmic_least(zero, step), hmic_most(zero, step));
        if (!clipped(&brush->clip, &part))
            return;
    }
    stamp(brush, hmic_u16(record + 26), brush->box.left, brush->box.top);
}

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

/* The pixels that a slide or a pointer may touch at a step. */
static hmic_area place_of(const hmic_pack *pack, const uint8_t *record, uint32_t step)
{
    hmic_area box = box_of(record), area = {0x7FFF, 0x7FFF, 0, 0};
    polygon shape;
    if (record[0] == HMIC_SLIDE) {
        hmic_rows rows;
        open_mask(&rows, pack, hmic_u16(record + 24));
        stretch(&box, record[22], (int32_t)step,
                (int32_t)(step + (record[22] >= HMIC_UPWARD ? rows.height : rows.width)));
        return plane_area(&rows, box.left, box.top);
    }
    for (shape = polygon_of(pack, record, step); shape.count; shape.count--, shape.corners += HMIC_CORNER_SIZE) {
        int32_t x = box.left + (int32_t)hmic_u16(shape.corners) / 16;
        int32_t y = box.top + (int32_t)hmic_u16(shape.corners + 2) / 16;
        area.left = hmic_least(area.left, x);
        area.top = hmic_least(area.top, y);
        area.right = hmic_most(area.right, x + 1);
        area.bottom = hmic_most(area.bottom, y + 1);
    }
    return area;
}

/* ---- pointers ---- */

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

static void paint_pointer(const struct brush *brush, uint32_t step)
{
    hmic_area box = brush->box, part = place_of(brush->pack, brush->record, step);
    polygon shape = polygon_of(brush->pack, brush->record, step);
    int32_t x, y, row, low[4], high[4];
    if (!clipped(&part, &brush->clip))
        return;
    for (y = part.top; y < part.bottom; y++) {
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
static void stroke(const struct brush *brush, int32_t x, int32_t low, int32_t high)
{
    int32_t bottom = brush->box.bottom, row = low / 16, end = (high - 1) / 16;
    row = hmic_most(row, bottom - brush->clip.bottom);
    end = hmic_least(end, bottom - 1 - brush->clip.top);
    for (; row <= end; row++) {
        int32_t covered = hmic_least(high, 16 * row + 16) - hmic_most(low, 16 * row);
        spot(brush, x, bottom - 1 - row, ((uint32_t)covered * 255 + 8) / 16);
    }
}

/* One column that is live, from height g to h. */
static void paint_column(const struct brush *brush, int32_t left, int32_t width, int32_t g, int32_t h)
{
    int32_t thickness = (int32_t)hmic_u16(brush->record + 28);
    int32_t reach = (thickness - 1) / 2, x = hmic_most(left, brush->clip.left);
    int32_t end = hmic_least(left + width, brush->clip.right);
    int32_t bottom = 16 * (brush->box.bottom - brush->clip.bottom), top = 16 * (brush->box.bottom - brush->clip.top);
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
        stroke(brush, x, low, low + steep + wide);
    }
}

static void paint_trace(struct brush *brush)
{
    const uint8_t *record = brush->record;
    hmic_area box = brush->box;
    uint32_t first = hmic_u16(record + 20), columns = hmic_u16(record + 22), number, place, rise;
    uint32_t levels = hmic_u16(record + 26), ink = brush->entry;
    int32_t thickness = (int32_t)hmic_u16(record + 28), left = box.left, width, before = -1;
    if (brush->state != HMIC_LIVE) {
        solid(brush, &box);
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
        if (value >= HMIC_LIVE)
            height = (int32_t)((value - HMIC_LIVE) * rise >> 16);
        if (left + width > brush->clip.left && height >= 0) {
            paint_column(brush, left, width, before < 0 ? height : before, height);
        } else if (left + width > brush->clip.left) {
            hmic_area gap = area_of(left, box.bottom - GAP_ROWS, width, GAP_ROWS);
            dip(brush, DOUBT);
            brush->state = value;
            solid(brush, &gap);
            brush->state = HMIC_LIVE;
            dip(brush, ink);
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

static void paint_flow(const struct brush *brush, uint32_t step)
{
    const uint8_t *record = brush->record;
    hmic_area box = brush->box, part;
    int32_t length = hmic_most(box.bottom - box.top, box.right - box.left);
    int32_t pitch = (int32_t)hmic_u16(record + 26), mark = (int32_t)hmic_u16(record + 28);
    int32_t start = (int32_t)phase_of(record, step, brush->moment->clock);
    start = (start + pitch - (int32_t)hmic_u16(record + 24) % pitch) % pitch - pitch;
    /* what lies beyond the box is left out */
    for (; start < length; start += pitch) {
        part = box;
        stretch(&part, record[22], start, start + mark);
        solid(brush, &part);
    }
}

static void paint_picture(struct brush *brush)
{
    const uint8_t *held =
        hmic_record(brush->pack, HMIC_PICTURES, hmic_u16(brush->record + 20), HMIC_PICTURE_SIZE);
    uint32_t width = hmic_u16(held), height = hmic_u16(held + 2);
    hmic_rows parts, soft;
    open_rows(&parts, brush->pack, held + 8, width, 2 * height, held[4]);
    open_rows(&soft, brush->pack, held + 16, width, height, held[5]);
    parts.mask = false;
    paint_values(brush, &parts, &soft, true, 0);
}

static void paint_letters(struct brush *brush, uint32_t state)
{
    const uint8_t *record = brush->record;
    hmic_area box = brush->box;
    const hmic_pack *pack = brush->pack;
    const uint8_t *set = hmic_record(pack, HMIC_LETTER_SETS, hmic_u16(record + 24), HMIC_LETTER_SET_SIZE);
    uint32_t first = hmic_u16(record + 20), place;
    uint32_t count = state >= HMIC_LIVE ? hmic_u16(record + 22) : DOUBT_LETTERS;
    for (place = 0; place < count && box.left < box.right; place++) {
        uint32_t value = state >= HMIC_LIVE ? value_of(brush, first + place) : state;
        const uint8_t *letter;
        if (value == HMIC_LIVE)
            return;
        if (value > HMIC_LIVE) {
            letter = hmic_record(pack, HMIC_LETTERS, hmic_u32(set + 4) + value - HMIC_LIVE - 1, HMIC_LETTER_SIZE);
        } else {
            letter = set + 8 + value * HMIC_LETTER_SIZE;
            dip(brush, DOUBT);
        }
        stamp_glyph(brush, letter, box.left, box.top);
        if (value < HMIC_LIVE && state >= HMIC_LIVE)
            return;
        box.left += (int32_t)hmic_u16(letter + 6);
    }
}

/* ---- a frame ---- */

/* What decides whether and how an operation is painted. `value` is that of its leading channel, or the doubt in which
   it is. */
struct look {
    bool visible;
    uint32_t value, entry;
};

static uint32_t state_of(uint32_t value) { return value < HMIC_LIVE ? value : HMIC_LIVE; }

/* A flash is dark for the second half of each second. */
static bool dark(const uint8_t *record, uint32_t clock)
{
    return record[0] == HMIC_STENCIL && record[1] && clock / HALF_BEAT % 2;
}

static void look_at(struct look *look, const hmic_pack *pack, const uint8_t *record, const hmic_moment *moment)
{
    uint32_t when = hmic_u16(record + 14), tint = hmic_u16(record + 12), leading = hmic_leading(record);
    uint32_t value = HMIC_LIVE;
    look->visible = true;
    look->value = HMIC_LIVE;
    look->entry = DOUBT;
    if (when != HMIC_NONE) {
        uint32_t raw = raw_of(pack, moment->raw, when);
        look->visible = raw >= hmic_u16(record + 16) && raw <= hmic_u16(record + 18);
    }
    if (leading != HMIC_NONE)
        look->value = raw_of(pack, moment->raw, leading);
    if (tint != HMIC_NONE)
        value = raw_of(pack, moment->raw, tint);
    if (look->value >= HMIC_LIVE && value < HMIC_LIVE)
        look->value = value;
    if (look->value >= HMIC_LIVE) {
        look->entry = hmic_u16(record + 10) + value - HMIC_LIVE;
        look->visible = look->visible && !dark(record, moment->clock);
    }
}

/* A kind that the settings leave out takes no code: the compiler sees that it is never painted. */
static bool has(uint32_t kind) { return HMIC_KINDS >> kind & 1u; }

static void paint_operation(struct brush *brush, uint32_t value)
{
    const uint8_t *record = brush->record;
    hmic_area box = brush->box;
    uint32_t kind = record[0], step = value - HMIC_LIVE;
    if (!has(kind) || (value < HMIC_LIVE && VANISHING >> kind & 1u))
        return;
    brush->state = HATCHED >> kind & 1u ? state_of(value) : HMIC_LIVE;
    switch (kind) {
    case HMIC_FILL:
        solid(brush, &box);
        break;
    case HMIC_STENCIL:
        stamp(brush, hmic_u16(record + 20), box.left, box.top);
        break;
    case HMIC_RUN:
        if (has(HMIC_RUN))
            paint_run(brush);
        break;
    case HMIC_FRAME:
        if (has(HMIC_FRAME))
            paint_frame(brush);
        break;
    case HMIC_FIGURES:
        if (has(HMIC_FIGURES))
            paint_figures(brush, value);
        break;
    case HMIC_REVEAL:
        if (has(HMIC_REVEAL))
            paint_reveal(brush, value);
        break;
    case HMIC_SLIDE:
        box = place_of(brush->pack, record, step);
        stamp(brush, hmic_u16(record + 24), box.left, box.top);
        break;
    case HMIC_POINTER:
        if (has(HMIC_POINTER))
            paint_pointer(brush, step);
        break;
    case HMIC_TRACE:
        if (has(HMIC_TRACE))
            paint_trace(brush);
        break;
    case HMIC_FLOW:
        if (has(HMIC_FLOW))
            paint_flow(brush, step);
        break;
    case HMIC_PICTURE:
        if (has(HMIC_PICTURE))
            paint_picture(brush);
        break;
    default:
        if (has(HMIC_LETTER_ROW))
            paint_letters(brush, value);
        break;
    }
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
    brush.clip = area;
    brush.left = area.left;
    brush.top = area.top;
    brush.stride = area.right - area.left;
    brush.size = (int32_t)hmic_pixel_size(pack);
    brush.state = HMIC_LIVE;
    dip(&brush, GROUND);
    /* Its rows follow each other without gaps: one span. */
    span(&brush, area.left, area.left + brush.stride * (area.bottom - area.top), area.top);
    for (; count; count--, record += HMIC_OPERATION_SIZE) {
        struct look look;
        brush.record = record;
        brush.clip = brush.box = box_of(record);
        if (!clipped(&brush.clip, &area))
            continue;
        look_at(&look, pack, record, moment);
        if (!look.visible)
            continue;
        dip(&brush, look.entry);
        paint_operation(&brush, look.value);
    }
}

/* ---- what changed ---- */

static int32_t size_of(const hmic_area *area) { return (area->right - area->left) * (area->bottom - area->top); }

/* Makes an area larger, so that it holds another. */
static void widen(hmic_area *area, const hmic_area *other)
{
    area->left = hmic_least(area->left, other->left);
    area->top = hmic_least(area->top, other->top);
    area->right = hmic_most(area->right, other->right);
    area->bottom = hmic_most(area->bottom, other->bottom);
}

void hmic_areas_add(hmic_areas *areas, const hmic_area *added)
{
    hmic_area area = *added;
    while (areas->count) {
        uint32_t number, best = 0;
        int32_t least = 0x7FFFFFFF, allowed = 0;
        for (number = 0; number < areas->count; number++) {
            hmic_area both = area;
            int32_t each = size_of(&area) + size_of(&areas->list[number]), lost;
            widen(&both, &areas->list[number]);
            lost = size_of(&both) - each;
            if (lost < least) {
                least = lost;
                allowed = each / 8;
                best = number;
            }
        }
        /* Joined when an eighth of both at most is painted for nothing, or when there is no place left. */
        if (areas->count < HMIC_MOST_AREAS && least > allowed)
            break;
        widen(&area, &areas->list[best]);
        areas->list[best] = areas->list[--areas->count];
    }
    areas->list[areas->count++] = area;
}

/* Whether one of `count` channels from `first` on has another value. */
static bool differ(const hmic_moment *before, const hmic_moment *after, uint32_t first, uint32_t count)
{
    return memcmp(before->raw + first, after->raw + first, count * sizeof *after->raw) != 0;
}

static bool differs(const hmic_moment *before, const hmic_moment *after, uint32_t channel)
{
    return channel != HMIC_NONE && before->raw[channel] != after->raw[channel];
}

/* What is looked at: one operation, at two moments. */
struct change {
    const hmic_pack *pack;
    const uint8_t *record;
    const hmic_moment *before, *after;
    hmic_areas *areas;
};

static void add_within(const struct change *change, hmic_area area)
{
    hmic_area box = box_of(change->record);
    if (clipped(&area, &box))
        hmic_areas_add(change->areas, &area);
}

static void add_glyph(const struct change *change, const uint8_t *glyph, int32_t pen)
{
    hmic_rows rows;
    if (!glyph)
        return;
    open_mask(&rows, change->pack, hmic_u16(glyph));
    add_within(change, plane_area(&rows, pen + hmic_i16(glyph + 2), box_of(change->record).top + hmic_i16(glyph + 4)));
}

/* Places from the right on are the same in both numbers, so that figures that did not change stand where they stood. */
static void add_figures(const struct change *change, uint32_t was, uint32_t is)
{
    figures one, other;
    const uint8_t *gone, *come;
    begin_figures(&one, change->pack, change->record, was);
    begin_figures(&other, change->pack, change->record, is);
    do {
        gone = next_figure(&one);
        come = next_figure(&other);
        if (gone != come) {
            add_glyph(change, gone, one.pen);
            add_glyph(change, come, other.pen);
        }
    } while (gone || come);
}

/* Where an operation whose leading value alone has changed, and which is live, looks otherwise. */
static void add_motion(const struct change *change, uint32_t was, uint32_t is)
{
    const uint8_t *record = change->record;
    hmic_area box = box_of(record);
    if (record[0] == HMIC_FIGURES) {
        add_figures(change, was, is);
    } else if (record[0] == HMIC_SLIDE || record[0] == HMIC_POINTER) {
        add_within(change, place_of(change->pack, record, was - HMIC_LIVE));
        add_within(change, place_of(change->pack, record, is - HMIC_LIVE));
    } else {
        if (record[0] == HMIC_REVEAL && record[22] != HMIC_MAPPED)
            stretch(&box, record[22], hmic_least((int32_t)was, (int32_t)is) - HMIC_LIVE,
                    hmic_most((int32_t)was, (int32_t)is) - HMIC_LIVE);
        add_within(change, box);
    }
}

static void add_operation(const struct change *change)
{
    const uint8_t *record = change->record;
    const hmic_moment *before = change->before, *after = change->after;
    bool row = (record[0] == HMIC_TRACE || record[0] == HMIC_LETTER_ROW) &&
               differ(before, after, hmic_u16(record + 20), hmic_u16(record + 22));
    struct look was, is;
    /* Most operations have no part in what changed. */
    if (!row && !differs(before, after, hmic_u16(record + 12)) && !differs(before, after, hmic_u16(record + 14)) &&
        !differs(before, after, hmic_leading(record)) && record[0] != HMIC_FLOW &&
        dark(record, before->clock) == dark(record, after->clock))
        return;
    look_at(&was, change->pack, record, before);
    look_at(&is, change->pack, record, after);
    if (!was.visible && !is.visible)
        return;
    if (was.visible == is.visible && state_of(was.value) == state_of(is.value) && was.entry == is.entry && !row) {
        if (is.value < HMIC_LIVE)
            return;
        if (was.value != is.value) {
            add_motion(change, was.value, is.value);
            return;
        }
        if (record[0] != HMIC_FLOW || phase_of(record, is.value - HMIC_LIVE, before->clock) ==
                                          phase_of(record, is.value - HMIC_LIVE, after->clock))
            return;
    }
    add_within(change, box_of(record));
}

void hmic_changed(const hmic_pack *pack, const hmic_moment *before, const hmic_moment *after,
                  hmic_areas *areas)
{
    struct change change;
    uint32_t count;
    change.pack = pack;
    change.before = before;
    change.after = after;
    change.areas = areas;
    change.record = operations_of(pack, after->screen, &count);
    for (; count; count--, change.record += HMIC_OPERATION_SIZE)
        add_operation(&change);
}
