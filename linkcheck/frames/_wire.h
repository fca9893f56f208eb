/* Columns into marks: bits on the wire, keys, gaps.
 *
 * Pure C11 without Python, so that it can be fuzzed on its own. The rules are those of linkcheck/frames/bits.py, fd.py
 * and track.py, its twins. What makes it quick: a header (start of frame up to the length code) is worked out once for
 * each key; each data byte then costs one look-up for the CRC, independent of the others because a CRC is linear, and
 * one in a state machine for the stuffing, a chain that several frames go through side by side.
 */
#ifndef LINKCHECK_WIRE_H
#define LINKCHECK_WIRE_H

#include "_text.h"

#define UNKNOWN INT64_MIN /* no last time */

enum { TRAILER = 13, ACK = 1 };                  /* bits behind the CRC, and the dominant ones of them */
enum { KIND = EXTENDED | REMOTE | ERROR_FRAME }; /* the flags that make a key */

/* Stuffing state: level of the last bit and length of its run, 1 to 4. A step's look-up is its next state (bits 8-10),
 * its stuff bits (16-23) and its dominant bits (24-31), so that steps add up. Up to 16 steps fit. */
enum { STATE = 0x700, IDLE = 0x400 }; /* IDLE: recessive, run of 1; start of frame is the first dominant bit */
static uint32_t step8[8 * 256], step7[8 * 256], step4[8 * 256]; /* by state | bits */
static uint16_t stuffed8[8 * 256];                              /* by state | byte: its bits with stuff bits, 8 to 10 */
static uint16_t crc15_of[8][256];                               /* by zero bytes that follow, and byte */
static uint32_t crc17_of[1024], crc21_of[1024];                 /* by up to 10 bits */

/* One entry of the hash table of keys; 32 bytes, an empty one has code 0. */
typedef struct {
    uint64_t code; /* channel, kind and identifier, and a bit that is always set */
    int64_t last_ns;
    uint32_t index;
    uint32_t steps; /* added-up steps of the header without length code; its last state in STATE */
    uint32_t crc;   /* of the header, as if the length code were 0 */
    uint32_t unused;
} Key;

typedef struct {
    size_t n;
    const int64_t *time_ns;
    const uint8_t *channel;
    const uint32_t *identifier;
    const uint8_t *flags, *length, *data;
    size_t wide;
    const int64_t *wide_rows;
    const uint8_t *wide_data;
    uint16_t *wire, *dominant, *fast;
    uint32_t *key;
    int64_t *gap_ns, *source_gap_ns, *bus_gap_ns;
    /* state */
    Key *table;
    size_t slots; /* a power of two; at most half are used */
    Key *shared;  /* the last key, for whatever comes once the others are taken */
    int64_t *source_last, *bus_last; /* [256 * 256], [256] */
    uint8_t *key_channel, *key_flags;
    uint32_t *key_identifier;
    size_t keys, max_keys;
    int any_fast;
} Annotate;

/* ---- one bit at a time: tables and headers ---- */

static uint32_t stuff_bit(uint32_t state, unsigned bit) {
    unsigned level = state >> 10 & 1, run = (state >> 8 & 3) + 1, stuffed = 0, dominant = !bit;
    run = bit == level ? run + 1 : 1;
    if (run == 5) {
        stuffed = 1;
        dominant += bit; /* the stuff bit is the other level */
        bit = !bit;
        run = 1;
    }
    return (uint32_t)bit << 10 | (uint32_t)(run - 1) << 8 | (uint32_t)stuffed << 16 | (uint32_t)dominant << 24;
}

static uint32_t stuff_bits(uint32_t state, uint64_t bits, int n) {
    uint32_t steps = 0;
    while (n--) {
        uint32_t step = stuff_bit(state, bits >> n & 1);
        state = step & STATE;
        steps += step & ~(uint32_t)STATE;
    }
    return steps | state;
}

static uint32_t crc_bits(uint32_t crc, int width, uint32_t terms, uint64_t bits, int n) {
    while (n--) {
        uint32_t feedback = (crc >> (width - 1) ^ (uint32_t)(bits >> n)) & 1;
        crc = (crc << 1 & ((1u << width) - 1)) ^ (feedback ? terms : 0);
    }
    return crc;
}

static uint32_t crc15_bits(uint32_t crc, uint64_t bits, int n) { return crc_bits(crc, 15, 0x4599, bits, n); }
static uint32_t crc17_bits(uint32_t crc, uint64_t bits, int n) { return crc_bits(crc, 17, 0x1685B, bits, n); }
static uint32_t crc21_bits(uint32_t crc, uint64_t bits, int n) { return crc_bits(crc, 21, 0x102899, bits, n); }

static uint16_t with_stuff_bits(uint32_t state, unsigned bits, int n) {
    unsigned sent = 0;
    while (n--) {
        unsigned bit = bits >> n & 1;
        state = stuff_bit(state, bit);
        sent = sent << 1 | bit;
        if (state >> 16 & 1) sent = sent << 1 | !bit;
    }
    return (uint16_t)sent;
}

static void wire_init(void) {
    for (uint32_t state = 0; state < 8; state++) {
        for (uint32_t byte = 0; byte < 256; byte++) {
            step8[state << 8 | byte] = stuff_bits(state << 8, byte, 8);
            step7[state << 8 | byte] = stuff_bits(state << 8, byte & 127, 7);
            step4[state << 8 | byte] = stuff_bits(state << 8, byte & 15, 4);
            stuffed8[state << 8 | byte] = with_stuff_bits(state << 8, byte, 8);
        }
    }
    for (uint32_t byte = 0; byte < 256; byte++) {
        uint32_t crc = crc15_bits(0, byte, 8);
        for (int after = 0; after < 8; after++) {
            crc15_of[after][byte] = (uint16_t)crc;
            crc = crc15_bits(crc, 0, 8);
        }
    }
    for (uint32_t bits = 0; bits < 1024; bits++) {
        crc17_of[bits] = crc17_bits(0, bits, 10);
        crc21_of[bits] = crc21_bits(0, bits, 10);
    }
}

/* Work out what all classic frames of a key share: start of frame up to the length code. */
static void read_header(Key *key, uint32_t identifier, unsigned flags) {
    uint64_t bits, remote = flags & REMOTE ? 1 : 0;
    int n;
    if (flags & EXTENDED) { /* SOF, 11 bits, SRR, IDE, 18 bits, RTR, r1, r0 */
        bits = (uint64_t)(identifier >> 18 & 0x7FF) << 23 | (uint64_t)3 << 21 | (uint64_t)(identifier & 0x3FFFF) << 3 |
               remote << 2;
        n = 35;
    } else { /* SOF, 11 bits, RTR, IDE, r0 */
        bits = (uint64_t)(identifier & 0x7FF) << 3 | remote << 2;
        n = 15;
    }
    key->steps = stuff_bits(IDLE, bits, n);
    key->crc = crc15_bits(0, bits << 4, n + 4);
}

/* ---- CAN FD: a byte at a time inside the data, a bit at a time around them ---- */

typedef struct {
    uint32_t state, crc;
    int width;
    unsigned last, stuffed, dominant;
} FdBits;

static void fd_crc(FdBits *f, uint64_t bits, int n) {
    f->crc = f->width == 17 ? crc17_bits(f->crc, bits, n) : crc21_bits(f->crc, bits, n);
}

/* The next n bits, first one highest; `end` if only the CRC field follows them. */
static void fd_bits(FdBits *f, uint64_t bits, int n, int end) {
    while (n--) {
        f->last = bits >> n & 1;
        uint32_t step = stuff_bit(f->state, f->last);
        f->state = step & STATE;
        fd_crc(f, f->last, 1);
        f->dominant += !f->last;
        if (step >> 16 & 1 && !(end && n == 0)) { /* there, the first fixed stuff bit does the work */
            fd_crc(f, !f->last, 1);
            f->dominant += f->last;
            f->stuffed++;
        }
    }
}

/* A data byte that is not the last. */
static inline void fd_byte(FdBits *f, uint32_t byte) {
    uint32_t step = step8[f->state | byte], sent = stuffed8[f->state | byte];
    int n = 8 + (int)(step >> 16 & 255);
    sent ^= f->crc >> (f->width - n);
    f->crc = (f->crc << n & ((1u << f->width) - 1)) ^ (f->width == 17 ? crc17_of[sent] : crc21_of[sent]);
    f->state = step & STATE;
    f->stuffed += (unsigned)n - 8;
    f->dominant += step >> 24;
}

/* Bits in all, dominant ones and those of the data phase; layout in frames/fd.py. */
static void count_fd(uint32_t identifier, unsigned flags, unsigned length, const uint8_t *payload, uint16_t *wire,
                     uint16_t *dominant, uint16_t *fast) {
    static const uint8_t lengths[16] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64};
    unsigned dlc = 0;
    while (dlc < 15 && lengths[dlc] < length) dlc++;
    length = lengths[dlc];
    FdBits f = {.state = IDLE, .width = length <= 16 ? 17 : 21};
    f.crc = 1u << (f.width - 1);

    int n = flags & EXTENDED ? 36 : 17;
    uint64_t head = 4 | (flags & BRS ? 1 : 0); /* FDF, res, BRS */
    if (flags & EXTENDED) {                    /* SOF, 11 bits, SRR, IDE, 18 bits, RRS, FDF, res, BRS */
        head |= (uint64_t)(identifier >> 18 & 0x7FF) << 24 | (uint64_t)3 << 22 | (uint64_t)(identifier & 0x3FFFF) << 4;
    } else { /* SOF, 11 bits, RRS, IDE, FDF, res, BRS */
        head |= (uint64_t)(identifier & 0x7FF) << 5;
    }
    fd_bits(&f, head, n, 0);
    unsigned slow_stuffed = f.stuffed;
    fd_bits(&f, (flags & ESI ? 16u : 0u) | dlc, 5, length == 0);
    for (unsigned i = 0; i + 1 < length; i++) fd_byte(&f, payload[i]);
    if (length) fd_bits(&f, payload[length - 1], 8, 1);

    unsigned gray = (f.stuffed & 7) ^ (f.stuffed & 7) >> 1, count = gray << 1 | ((gray ^ gray >> 1 ^ gray >> 2) & 1);
    fd_crc(&f, count, 4);
    uint64_t tail = (uint64_t)count << f.width | f.crc;
    int tail_bits = 4 + f.width, fixed = 0;
    for (int i = 0; i < tail_bits; i++) {
        if (i % 4 == 0) { /* a fixed stuff bit, the complement of the last bit */
            f.dominant += f.last;
            fixed++;
        }
        f.last = tail >> (tail_bits - 1 - i) & 1;
        f.dominant += !f.last;
    }
    unsigned behind_brs = 5 + 8 * length + f.stuffed - slow_stuffed + (unsigned)(tail_bits + fixed);
    *wire = (uint16_t)((unsigned)n + slow_stuffed + behind_brs + TRAILER);
    *dominant = (uint16_t)(f.dominant + ACK);
    *fast = (uint16_t)(flags & BRS ? behind_brs + 1 : 0); /* the CRC delimiter */
}

/* ---- the pass over a batch ---- */

static inline int64_t since(int64_t last, int64_t now) {
    if (last == UNKNOWN) return -1;
    if (now <= last) return 0;
    uint64_t gap = (uint64_t)now - (uint64_t)last;
    return gap > INT64_MAX ? INT64_MAX : (int64_t)gap;
}

static inline size_t slot_of(uint64_t code, size_t slots) {
    return (size_t)((code * 0x9E3779B97F4A7C15ULL) >> 32) & (slots - 1);
}

static Key *free_slot(Key *table, size_t slots, uint64_t code) {
    size_t slot = slot_of(code, slots);
    while (table[slot].code) slot = (slot + 1) & (slots - 1);
    return &table[slot];
}

/* Move every key to a larger, empty table. */
static void move_keys(const Key *from, size_t count, Key *to, size_t slots) {
    for (size_t i = 0; i < count; i++) {
        if (from[i].code) *free_slot(to, slots, from[i].code) = from[i];
    }
}

/* A key not met before, or the shared one; NULL if the table must grow first. */
static Key *new_key(Annotate *a, uint64_t code, Key *place) {
    int shared = a->keys + 1 >= a->max_keys;
    if (!shared && 2 * (a->keys + 1) > a->slots) return NULL;
    if (a->keys < a->max_keys) {
        a->key_channel[a->keys] = (uint8_t)(code >> 40);
        a->key_flags[a->keys] = (uint8_t)(code >> 32);
        a->key_identifier[a->keys] = (uint32_t)code;
        a->keys++;
    }
    if (shared) {
        place = a->shared;
        place->index = (uint32_t)(a->max_keys - 1);
    } else {
        *place = (Key){.code = code, .last_ns = UNKNOWN, .index = (uint32_t)(a->keys - 1)};
    }
    read_header(place, (uint32_t)code, (unsigned)(code >> 32) & KIND);
    return place;
}

static inline Key *key_of(Annotate *a, uint32_t identifier, unsigned channel, unsigned kind) {
    uint64_t code = (uint64_t)1 << 48 | (uint64_t)channel << 40 | (uint64_t)kind << 32 | identifier;
    size_t slot = slot_of(code, a->slots);
    for (;;) {
        Key *key = &a->table[slot];
        if (LIKELY(key->code == code)) return key;
        if (!key->code) return new_key(a, code, key);
        slot = (slot + 1) & (a->slots - 1);
    }
}

/* CRC of the header, moved on by `sent` data bytes, last one lowest in `word`. */
static inline uint32_t crc_of_data(uint32_t crc, unsigned sent, uint64_t word) {
    if (sent == 0) return crc;
    if (sent == 1) return (crc << 8 & 0x7FFF) ^ crc15_of[0][(crc >> 7 ^ word) & 255];
    word ^= (uint64_t)crc << (8 * sent - 15); /* it acts on the first 15 bits */
    crc = 0;
    for (int i = 0; i < 8; i++) crc ^= crc15_of[i][word >> 8 * i & 255]; /* 0 for bytes that are not there */
    return crc;
}

/* What the first pass leaves for the second: a row's header and how many data bytes follow. */
typedef struct {
    uint32_t steps, crc;
    uint8_t sent, length, flags;
} Head;
enum { BLOCK = 64, LANES = 4, NOT_CLASSIC = 255 /* as `sent`: FD or error frame */ };

/* Count the bits of `lanes` rows with `sent` data bytes each. */
static inline void count_classic(const Head *heads, int lanes, unsigned sent, const uint8_t *data, uint16_t *wire,
                                 uint16_t *dominant) {
    uint64_t word[LANES];
    uint32_t crc[LANES], steps[LANES], state[LANES];
    for (int k = 0; k < lanes; k++) {
        word[k] = sent ? swap64(load64(data + 8 * k)) >> (64 - 8 * sent) : 0;
        crc[k] = heads[k].crc ^ crc15_of[0][heads[k].length]; /* the length code: four bits, so the byte's others are 0 */
        crc[k] = crc_of_data(crc[k], sent, word[k]);
        state[k] = step4[(heads[k].steps & STATE) | heads[k].length];
        steps[k] = heads[k].steps + state[k];
    }
#define STEP(table, bits) state[k] = table[(state[k] & STATE) | (uint32_t)(bits)], steps[k] += state[k]
    for (unsigned i = sent; i-- > 0;) {
        for (int k = 0; k < lanes; k++) STEP(step8, word[k] >> 8 * i & 255);
    }
    for (int k = 0; k < lanes; k++) {
        STEP(step7, crc[k] >> 8);
        STEP(step8, crc[k] & 255);
        wire[k] = (uint16_t)((heads[k].flags & EXTENDED ? 39 : 19) + 8 * sent + 15 + TRAILER + (steps[k] >> 16 & 255));
        dominant[k] = (uint16_t)((steps[k] >> 24) + ACK);
    }
#undef STEP
}

static const uint8_t *wide_payload(const Annotate *a, size_t row, size_t *next) {
    while (*next < a->wide && a->wide_rows[*next] < (int64_t)row) ++*next;
    return *next < a->wide && a->wide_rows[*next] == (int64_t)row ? a->wide_data + WIDE * *next : NULL;
}

/* Keys and gaps of rows from `row` to `end`, and their heads; the first row without a key, because the table is full. */
static size_t mark_rows(Annotate *a, size_t row, size_t end, Head *head) {
    for (; row < end; row++, head++) {
        unsigned flags = a->flags[row], channel = a->channel[row], length = a->length[row];
        uint32_t identifier = a->identifier[row];
        int64_t now = a->time_ns[row], source_gap = -1;
        Key *key = key_of(a, identifier, channel, flags & KIND);
        if (!key) break;
        a->key[row] = key->index;
        a->gap_ns[row] = since(key->last_ns, now);
        a->bus_gap_ns[row] = since(a->bus_last[channel], now);
        key->last_ns = now;
        if (!(flags & ERROR_FRAME)) {
            a->bus_last[channel] = now;
            if (flags & EXTENDED) {
                int64_t *last = &a->source_last[channel << 8 | (identifier & 255)];
                source_gap = since(*last, now);
                *last = now;
            }
        }
        a->source_gap_ns[row] = source_gap;
        if (length > 8) length = 8;
        head->steps = key->steps;
        head->crc = key->crc;
        head->length = (uint8_t)length;
        head->sent = (uint8_t)(flags & (FD | ERROR_FRAME) ? NOT_CLASSIC : flags & REMOTE ? 0 : length);
        head->flags = (uint8_t)flags;
    }
    return row;
}

static void count_rows(Annotate *a, size_t row, size_t end, const Head *head, size_t *next_wide) {
    memset(a->fast + row, 0, (end - row) * sizeof *a->fast);
    while (row < end) {
        const uint8_t *data = a->data + 8 * row;
        uint16_t *wire = a->wire + row, *dominant = a->dominant + row;
        size_t rows = 1;
        if (end - row >= LANES && head[0].sent == 8 && head[1].sent == 8 && head[2].sent == 8 && head[3].sent == 8) {
            count_classic(head, LANES, 8, data, wire, dominant);
            rows = LANES;
        } else if (head->sent != NOT_CLASSIC) {
            count_classic(head, 1, head->sent, data, wire, dominant);
        } else if (head->flags & ERROR_FRAME) {
            *wire = *dominant = 0;
        } else {
            uint8_t narrow[WIDE] = {0};
            const uint8_t *payload = wide_payload(a, row, next_wide);
            if (!payload) payload = memcpy(narrow, data, 8);
            count_fd(a->identifier[row], head->flags, a->length[row], payload, wire, dominant, a->fast + row);
            a->any_fast |= a->fast[row] != 0;
        }
        row += rows;
        head += rows;
    }
}

/* Mark rows from `row` on; the first row not marked, which is less than n where the table must grow. */
static size_t annotate_rows(Annotate *a, size_t row) {
    size_t next_wide = 0, end, reached = row;
    while (row < a->n && reached == row) {
        Head heads[BLOCK];
        end = a->n - row < BLOCK ? a->n : row + BLOCK;
        reached = mark_rows(a, row, end, heads);
        count_rows(a, row, reached, heads, &next_wide);
        row = end;
    }
    return reached;
}

#endif
