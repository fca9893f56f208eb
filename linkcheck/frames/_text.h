/* candump log text into columns.
 *
 * Pure C11 without Python, so that it can be fuzzed on its own. The rules are those of linkcheck/readers/candump.py,
 * whose `read_line` is the twin: `fast_line` takes the layouts recorders write, `slow_line` every other legal one, and
 * whatever neither takes is handed back as (line, offset, size) for Python to name the reason.
 *
 * Nothing is read at or beyond `end`. Words of eight characters are loaded little-endian and worked on side by side.
 */
#ifndef LINKCHECK_TEXT_H
#define LINKCHECK_TEXT_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#if defined(__GNUC__)
#define LIKELY(x) __builtin_expect(!!(x), 1)
#define TRAILING_ZEROS(x) ((unsigned)__builtin_ctzll(x))
#else
#define LIKELY(x) (x)
static inline unsigned TRAILING_ZEROS(uint64_t x) {
    unsigned n = 0;
    while (!(x & 1)) x >>= 1, n++;
    return n;
}
#endif

enum { EXTENDED = 1, REMOTE = 2, ERROR_FRAME = 4, FD = 8, BRS = 16, ESI = 32, SENT = 64 }; /* frames/batch.py */
enum { NAME_SIZE = 16, MOST_CHANNELS = 255, LONGEST_LINE = 4096, WIDE = 64, FAST_SPAN = 96, NAME_CACHE = 64 };

#define ERROR_BIT 0x20000000u
#define LARGEST_29_BIT 0x1FFFFFFFu
#define LARGEST_11_BIT 0x7FFu
#define SECOND_NS 1000000000LL
#define LAST_SECOND 9223372036ULL /* the one in which int64 nanoseconds end */
#define EACH_BYTE 0x0101010101010101ULL

typedef struct {
    const uint8_t *text, *end;
    /* columns of linkcheck.frames.FrameBatch, `room` rows, filled from row `frames` */
    int64_t *time_ns;
    uint8_t *channel;
    uint32_t *identifier;
    uint8_t *flags, *length, *data;
    int64_t *wide_rows;
    uint8_t *wide_data;
    size_t room, frames, wide_room, wide;
    uint8_t *names; /* MOST_CHANNELS names of NAME_SIZE bytes, filled up with zeros */
    size_t channels;
    int64_t *odd; /* (line, offset, size) of lines for Python, `odd_room` of them */
    size_t odd_room, odd_count, keep; /* keep: of the bad lines only that many are wanted */
    size_t lines, comments, skipped, consumed;
    /* what the last line looked like */
    uint64_t seconds_low, seconds_high, mask_low, mask_high; /* its seconds and point as text */
    size_t seconds_size;
    int64_t seconds_ns;
    uint64_t cached_name[NAME_CACHE][2]; /* names as two words, with the blank behind them */
    uint8_t cached_channel[NAME_CACHE];
} Parse;

typedef struct {
    int64_t time_ns;
    const uint8_t *name;
    size_t name_size;
    uint32_t identifier;
    uint8_t flags, length, payload[WIDE];
} Line;

static uint8_t nibble_of[256]; /* 16 for what is no hex digit */

static void text_init(void) {
    memset(nibble_of, 16, sizeof nibble_of);
    for (int i = 0; i < 10; i++) nibble_of['0' + i] = (uint8_t)i;
    for (int i = 0; i < 6; i++) nibble_of['A' + i] = nibble_of['a' + i] = (uint8_t)(10 + i);
}

static inline uint64_t swap64(uint64_t x) {
#if defined(__GNUC__)
    return __builtin_bswap64(x);
#else
    x = ((x >> 8) & 0x00FF00FF00FF00FFULL) | ((x & 0x00FF00FF00FF00FFULL) << 8);
    x = ((x >> 16) & 0x0000FFFF0000FFFFULL) | ((x & 0x0000FFFF0000FFFFULL) << 16);
    return (x >> 32) | (x << 32);
#endif
}

static inline uint64_t little(uint64_t x) { /* to or from little-endian */
#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
    return swap64(x);
#else
    return x;
#endif
}

static inline uint64_t load64(const uint8_t *p) {
    uint64_t x;
    memcpy(&x, p, 8);
    return little(x);
}

static inline void store64(uint8_t *p, uint64_t x) {
    x = little(x);
    memcpy(p, &x, 8);
}

static inline uint64_t low_bytes(size_t n) { return n < 8 ? ((uint64_t)1 << (8 * n)) - 1 : ~(uint64_t)0; }

/* Eight hex digits to eight nibbles, one a byte; *bad gets bits in each byte that is no hex digit. A nibble written as
 * text again must give the character back (small letters taken as capitals). */
static inline uint64_t nibbles(uint64_t x, uint64_t *bad) {
    uint64_t letter = (x >> 6) & EACH_BYTE;
    uint64_t value = (x & 0x0F * EACH_BYTE) + letter * 9;
    uint64_t above_nine = ((value + 6 * EACH_BYTE) >> 4) & EACH_BYTE;
    uint64_t again = value + '0' * EACH_BYTE + above_nine * 7;
    *bad = (again ^ (x & ~(letter << 5))) | (value & 0xF0 * EACH_BYTE);
    return value;
}

/* Eight nibbles to four bytes, the first one lowest. */
static inline uint32_t packed(uint64_t x) {
    x = ((x << 4) | (x >> 8)) & 0x00FF00FF00FF00FFULL;
    x = (x | (x >> 8)) & 0x0000FFFF0000FFFFULL;
    return (uint32_t)(x | (x >> 16));
}

static inline uint32_t swap32(uint32_t x) {
    return (x >> 24) | ((x >> 8) & 0xFF00u) | ((x & 0xFF00u) << 8) | (x << 24);
}

/* Whether each of eight bytes, already less '0', is a digit. */
static inline int all_digits(uint64_t x) { return !((x | (x + 0x76 * EACH_BYTE)) & 0x80 * EACH_BYTE); }

/* The number eight digit values make, the first one lowest in memory. */
static inline uint64_t eight_digits(uint64_t x) {
    x = x * 10 + (x >> 8);
    return (((x & 0x000000FF000000FFULL) * 0x000F424000000064ULL) +
            (((x >> 16) & 0x000000FF000000FFULL) * 0x0000271000000001ULL)) >> 32;
}

/* The high bit of the first blank among eight characters, exact up to there; 0 if there is none. */
static inline uint64_t first_blank(uint64_t x) {
    x ^= ' ' * EACH_BYTE;
    return (x - EACH_BYTE) & ~x & 0x80 * EACH_BYTE;
}

static inline int is_digit(uint8_t c) { return c >= '0' && c <= '9'; }
static inline int is_blank(uint8_t c) { return c == ' ' || c == '\t'; }

/* ---- interfaces ---- */

static inline size_t name_slot(uint64_t low, uint64_t high) {
    return (size_t)(((low ^ high << 1) * 0x9E3779B97F4A7C15ULL) >> 58);
}

/* Channel of a name of 1 to 15 bytes, or -1. A name is compared whole, because a stray NUL in it must not alias another;
 * for the same reason the cache keeps the blank behind it. */
static int known_channel(Parse *s, const uint8_t *name, size_t size) {
    for (size_t i = 0; i < s->channels; i++) {
        const uint8_t *known = s->names + i * NAME_SIZE;
        if (known[size] == 0 && known[size - 1] != 0 && memcmp(known, name, size) == 0) {
            uint8_t padded[NAME_SIZE] = {0};
            memcpy(padded, name, size);
            padded[size] = ' ';
            uint64_t low = load64(padded), high = load64(padded + 8);
            size_t slot = name_slot(low, high);
            s->cached_name[slot][0] = low;
            s->cached_name[slot][1] = high;
            s->cached_channel[slot] = (uint8_t)i;
            return (int)i;
        }
    }
    return -1;
}

static int channel_of(Parse *s, const uint8_t *name, size_t size) {
    int channel = known_channel(s, name, size);
    if (channel < 0 && s->channels < MOST_CHANNELS) {
        memcpy(s->names + s->channels * NAME_SIZE, name, size);
        channel = (int)s->channels++;
    }
    return channel;
}

/* ---- the common layouts ---- */

/* Take new seconds at p, the first digit; 0 if the slow way must. */
static int new_seconds(Parse *s, const uint8_t *p) {
    uint64_t seconds = 0;
    size_t n = 0;
    while (n < 11 && is_digit(p[n])) seconds = seconds * 10 + (uint64_t)(p[n++] - '0');
    if (n == 0 || p[n] != '.' || seconds >= LAST_SECOND) return 0;
    s->seconds_size = n + 1;
    s->mask_low = low_bytes(n + 1);
    s->mask_high = n + 1 > 8 ? low_bytes(n + 1 - 8) : 0;
    s->seconds_low = load64(p) & s->mask_low;
    s->seconds_high = load64(p + 8) & s->mask_high;
    s->seconds_ns = (int64_t)seconds * SECOND_NS;
    return 1;
}

/* Parse a line of a common layout at p, which has FAST_SPAN bytes; its end, or NULL if it is of another layout. The
 * longest such line has 84: ( 10 digits . 9 digits ) and up to 17 blanks, 15 characters and a blank, 8 digits #,
 * 16 digits, blank T CR LF. */
static inline const uint8_t *fast_line(Parse *s, const uint8_t *p) {
    if (*p++ != '(') return NULL;
    if (((load64(p) ^ s->seconds_low) & s->mask_low) | ((load64(p + 8) ^ s->seconds_high) & s->mask_high) |
        !s->seconds_size) {
        if (!new_seconds(s, p)) return NULL;
    }
    p += s->seconds_size;
    int64_t time_ns = s->seconds_ns;
    uint64_t x = load64(p) ^ 0x2029303030303030ULL; /* "000000) " */
    if (LIKELY(all_digits(x) && !(x >> 48))) {
        time_ns += (int64_t)eight_digits(x << 16) * 1000;
        p += 8;
    } else { /* nine digits */
        x = load64(p) ^ '0' * EACH_BYTE;
        if (!all_digits(x) || !is_digit(p[8]) || p[9] != ')' || p[10] != ' ') return NULL;
        time_ns += (int64_t)eight_digits(x) * 10 + (p[8] - '0');
        p += 11;
    }
    for (int i = 0; *p == ' '; i++, p++) { /* several names of different length are aligned to the right */
        if (i == NAME_SIZE) return NULL;
    }
    uint64_t low_name = load64(p), high_name = 0, blank = first_blank(low_name);
    size_t size;
    if (LIKELY(blank)) {
        size = TRAILING_ZEROS(blank) >> 3;
        low_name &= low_bytes(size + 1);
    } else {
        high_name = load64(p + 8);
        blank = first_blank(high_name);
        if (!blank) return NULL;
        size = 8 + (TRAILING_ZEROS(blank) >> 3);
        high_name &= low_bytes(size - 7);
    }
    size_t slot = name_slot(low_name, high_name);
    if ((s->cached_name[slot][0] ^ low_name) | (s->cached_name[slot][1] ^ high_name)) {
        if (known_channel(s, p, size) < 0) return NULL;
    }
    uint8_t channel = s->cached_channel[slot];
    p += size + 1;

    uint32_t identifier;
    uint8_t flags;
    if (LIKELY(p[8] == '#')) {
        uint64_t bad, value = nibbles(load64(p), &bad);
        identifier = swap32(packed(value));
        flags = EXTENDED;
        if (bad || identifier > LARGEST_29_BIT) return NULL;
        p += 9;
    } else {
        uint32_t a = nibble_of[p[0]], b = nibble_of[p[1]], c = nibble_of[p[2]];
        identifier = a << 8 | b << 4 | c;
        flags = 0;
        if (p[3] != '#' || a > 7 || (b | c) > 15) return NULL;
        p += 4;
    }
    uint64_t bad_low, bad_high, low = nibbles(load64(p), &bad_low), high = nibbles(load64(p + 8), &bad_high);
    uint64_t data = packed(low) | (uint64_t)packed(high) << 32;
    size_t digits = 16;
    if (bad_low | bad_high) {
        digits = bad_low ? TRAILING_ZEROS(bad_low) >> 3 : 8 + (TRAILING_ZEROS(bad_high) >> 3);
        if (digits & 1) return NULL;
        data &= low_bytes(digits / 2);
    }
    p += digits;
    if (*p == ' ') {
        if (p[1] != 'R' && p[1] != 'T') return NULL;
        if (p[1] == 'T') flags |= SENT;
        p += 2;
    }
    if (*p == '\r') p++;
    if (*p != '\n') return NULL;

    size_t row = s->frames++;
    s->time_ns[row] = time_ns;
    s->channel[row] = channel;
    s->identifier[row] = identifier;
    s->flags[row] = flags;
    s->length[row] = (uint8_t)(digits / 2);
    store64(s->data + 8 * row, data);
    return p + 1;
}

/* ---- every legal layout ---- */

static int read_time(const uint8_t *p, const uint8_t *end, int64_t *time_ns) {
    uint64_t seconds = 0;
    int64_t fraction = 0, unit = SECOND_NS / 10;
    if (p == end || !is_digit(*p)) return 0;
    for (; p < end && is_digit(*p); p++) {
        seconds = seconds * 10 + (uint64_t)(*p - '0');
        if (seconds > LAST_SECOND) return 0;
    }
    if (p < end) {
        if (*p++ != '.') return 0;
        for (; p < end; p++, unit /= 10) {
            if (!is_digit(*p)) return 0;
            fraction += unit * (*p - '0'); /* beyond the ninth digit, unit is 0 */
        }
    }
    if (seconds == LAST_SECOND && fraction > INT64_MAX - (int64_t)LAST_SECOND * SECOND_NS) return 0;
    *time_ns = (int64_t)seconds * SECOND_NS + fraction;
    return 1;
}

/* Data bytes from p, a dot before each and at the end allowed; their number, or -1. */
static int read_bytes(const uint8_t *p, const uint8_t *end, uint8_t *payload, int most) {
    int n = 0;
    for (;;) {
        while (end - p >= 8 && n + 4 <= most) {
            uint64_t bad, value = nibbles(load64(p), &bad);
            if (bad) break;
            uint32_t four = packed(value);
            for (int i = 0; i < 4; i++) payload[n + i] = (uint8_t)(four >> (8 * i));
            n += 4;
            p += 8;
        }
        if (p < end && *p == '.') p++;
        if (p == end) return n;
        if (end - p < 2 || n == most) return -1;
        unsigned a = nibble_of[p[0]], b = nibble_of[p[1]];
        if ((a | b) > 15) return -1;
        payload[n++] = (uint8_t)(a << 4 | b);
        p += 2;
    }
}

static int is_raw_code(const uint8_t *p, const uint8_t *end) { /* _9 to _F */
    return end - p == 2 && p[0] == '_' && nibble_of[p[1]] >= 9 && nibble_of[p[1]] < 16;
}

static int is_fd_length(int n) {
    return n <= 8 || n == 12 || n == 16 || n == 20 || n == 24 || n == 32 || n == 48 || n == 64;
}

static int read_body(const uint8_t *p, const uint8_t *end, Line *line) {
    if (p < end && (*p == 'R' || *p == 'r')) {
        line->flags |= REMOTE;
        if (++p == end) return 1;
        if (*p < '0' || *p > '8') return 0;
        line->length = (uint8_t)(*p++ - '0');
        return p == end || (line->length == 8 && is_raw_code(p, end));
    }
    int n;
    if (p < end && *p == '#') {
        if (++p == end || nibble_of[*p] > 15) return 0;
        unsigned digit = nibble_of[*p++];
        line->flags |= (uint8_t)(FD | (digit & 1 ? BRS : 0) | (digit & 2 ? ESI : 0));
        n = read_bytes(p, end, line->payload, WIDE);
        if (n < 0 || !is_fd_length(n)) return 0;
    } else {
        const uint8_t *mark = p < end ? memchr(p, '_', (size_t)(end - p)) : NULL;
        n = read_bytes(p, mark ? mark : end, line->payload, 8);
        if (n < 0 || (mark && (n < 8 || !is_raw_code(mark, end)))) return 0;
    }
    line->length = (uint8_t)n;
    return 1;
}

static int read_frame(const uint8_t *p, const uint8_t *end, Line *line) {
    size_t digits = end - p > 8 && p[8] == '#' ? 8 : 3;
    if (end - p <= (ptrdiff_t)digits || p[digits] != '#') return 0;
    uint32_t identifier = 0;
    for (size_t i = 0; i < digits; i++) {
        if (nibble_of[p[i]] > 15) return 0;
        identifier = identifier << 4 | nibble_of[p[i]];
    }
    line->flags = digits == 8 ? EXTENDED : 0;
    if (line->flags && identifier & ERROR_BIT) {
        identifier ^= ERROR_BIT;
        line->flags = ERROR_FRAME;
    }
    if (identifier > (line->flags ? LARGEST_29_BIT : LARGEST_11_BIT)) return 0;
    line->identifier = identifier;
    line->length = 0;
    memset(line->payload, 0, WIDE);
    if (!read_body(p + digits + 1, end, line)) return 0;
    return !(line->flags & ERROR_FRAME && line->flags & (REMOTE | FD));
}

/* The next word at or after *p, up to `end`; *p moves behind it. */
static const uint8_t *next_word(const uint8_t **p, const uint8_t *end) {
    while (*p < end && is_blank(**p)) (*p)++;
    const uint8_t *word = *p;
    while (*p < end && !is_blank(**p)) (*p)++;
    return word;
}

static int read_line(const uint8_t *p, const uint8_t *end, Line *line) {
    if (*p != '(') return 0;
    const uint8_t *bracket = memchr(p, ')', (size_t)(end - p));
    if (!bracket || !read_time(p + 1, bracket, &line->time_ns)) return 0;
    p = bracket + 1;
    line->name = next_word(&p, end);
    line->name_size = (size_t)(p - line->name);
    if (line->name_size == 0 || line->name_size >= NAME_SIZE) return 0;
    for (size_t i = 0; i < line->name_size; i++) {
        if (line->name[i] < '!' || line->name[i] > '~') return 0;
    }
    const uint8_t *word = next_word(&p, end);
    if (!read_frame(word, p, line)) return 0;
    word = next_word(&p, end);
    if (p != word) {
        if (p - word != 1 || (*word != 'R' && *word != 'T')) return 0;
        if (*word == 'T') line->flags |= SENT;
    }
    return next_word(&p, end) == end;
}

static int put_line(Parse *s, const Line *line) {
    int channel = channel_of(s, line->name, line->name_size);
    if (channel < 0) return 0;
    size_t row = s->frames++;
    s->time_ns[row] = line->time_ns;
    s->channel[row] = (uint8_t)channel;
    s->identifier[row] = line->identifier;
    s->flags[row] = line->flags;
    s->length[row] = line->length;
    memcpy(s->data + 8 * row, line->payload, 8);
    if (line->length > 8) {
        s->wide_rows[s->wide] = (int64_t)row;
        memcpy(s->wide_data + WIDE * s->wide++, line->payload, WIDE);
    }
    return 1;
}

/* Take the line from p to its newline; 0 if there is no room for what it gives. */
static int slow_line(Parse *s, const uint8_t *p, const uint8_t *newline) {
    static const uint8_t dropcount[10] = "DROPCOUNT:";
    const uint8_t *begin = p, *end = newline;
    int dropped = 0;
    if (newline - p <= LONGEST_LINE) {
        while (p < end && (is_blank(*p) || *p == '\r')) p++;
        while (end > p && (is_blank(end[-1]) || end[-1] == '\r')) end--;
        if (p == end || *p == '#' || *p == ';') {
            s->comments++;
            return 1;
        }
        if (s->wide == s->wide_room) return 0;
        Line line;
        if (read_line(p, end, &line) && put_line(s, &line)) return 1;
        dropped = end - p >= 10 && memcmp(p, dropcount, 10) == 0;
    }
    if (!dropped && s->keep == 0) {
        s->skipped++;
        return 1;
    }
    if (s->odd_count == s->odd_room) return 0;
    if (!dropped) s->keep--;
    int64_t *odd = s->odd + 3 * s->odd_count++;
    odd[0] = (int64_t)s->lines;
    odd[1] = begin - s->text;
    odd[2] = newline - begin;
    return 1;
}

/* Parse whole lines until the text or the room ends. */
static void parse_text(Parse *s) {
    const uint8_t *p = s->text;
    while (s->frames < s->room) {
        const uint8_t *next = s->end - p >= FAST_SPAN ? fast_line(s, p) : NULL;
        if (!LIKELY(next != NULL)) {
            const uint8_t *newline = p < s->end ? memchr(p, '\n', (size_t)(s->end - p)) : NULL;
            if (!newline || !slow_line(s, p, newline)) break;
            next = newline + 1;
        }
        p = next;
        s->lines++;
    }
    s->consumed = (size_t)(p - s->text);
}

#endif
