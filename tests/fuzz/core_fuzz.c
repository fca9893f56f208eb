/* The kernel's core under libFuzzer and the address and undefined-behaviour sanitizers; see fuzz_core.py.
 *
 * The first bytes of an input choose room, chunk size and key limit, the rest is candump text. Every array is allocated
 * at its exact size, so that one item too far is seen. The columns parsed are marked; then the input's bytes as they
 * are, taken for columns, are marked as well.
 */
#include <assert.h>
#include <stdlib.h>

#include "_text.h"
#include "_wire.h"

enum { SLOTS = 16 };
static int64_t source_last[256 * 256], bus_last[256]; /* any content is a legal one */

static void *copy(const void *from, size_t size) {
    void *to = malloc(size ? size : 1);
    memcpy(to, from, size);
    return to;
}

static void *zeros(size_t count, size_t size) { return calloc(count ? count : 1, size); }

static void mark(const int64_t *time_ns, const uint8_t *channel, const uint32_t *identifier, const uint8_t *flags,
                 const uint8_t *length, const uint8_t *data, size_t n, const int64_t *wide_rows,
                 const uint8_t *wide_data, size_t wide, size_t max_keys) {
    Annotate a = {.n = n, .time_ns = time_ns, .channel = channel, .identifier = identifier, .flags = flags,
                  .length = length, .data = data, .wide = wide, .wide_rows = wide_rows, .wide_data = wide_data,
                  .slots = SLOTS, .max_keys = max_keys};
    a.wire = zeros(n, 2), a.dominant = zeros(n, 2), a.fast = zeros(n, 2), a.key = zeros(n, 4);
    a.gap_ns = zeros(n, 8), a.source_gap_ns = zeros(n, 8), a.bus_gap_ns = zeros(n, 8);
    a.table = zeros(SLOTS, sizeof(Key)), a.shared = zeros(1, sizeof(Key));
    a.source_last = source_last, a.bus_last = bus_last;
    a.key_channel = zeros(max_keys, 1), a.key_flags = zeros(max_keys, 1), a.key_identifier = zeros(max_keys, 4);
    for (size_t row = 0; (row = annotate_rows(&a, row)) < n;) {
        Key *larger = zeros(4 * a.slots, sizeof(Key));
        move_keys(a.table, a.slots, larger, 4 * a.slots);
        free(a.table);
        a.table = larger;
        a.slots *= 4;
    }
    for (size_t row = 0; row < n; row++) {
        assert(a.key[row] < a.keys && a.keys <= max_keys);
        assert(a.dominant[row] <= a.wire[row] && a.fast[row] <= a.wire[row]);
        assert(a.gap_ns[row] >= -1 && a.source_gap_ns[row] >= -1 && a.bus_gap_ns[row] >= -1);
        assert(flags[row] & FD || a.wire[row] <= 158); /* longest classic frame */
    }
    free(a.wire), free(a.dominant), free(a.fast), free(a.key), free(a.gap_ns), free(a.source_gap_ns);
    free(a.bus_gap_ns), free(a.table), free(a.shared), free(a.key_channel), free(a.key_flags), free(a.key_identifier);
}

/* Parse one chunk; how much of it was taken. */
static size_t parse(const uint8_t *text, size_t size, size_t room, size_t max_keys, uint8_t *names, size_t *channels) {
    Parse s = {.room = room, .wide_room = room, .odd_room = 1 + room % 3, .keep = room % 5, .names = names,
               .channels = *channels};
    uint8_t *exact = copy(text, size);
    s.text = exact, s.end = exact + size;
    s.time_ns = zeros(room, 8), s.channel = zeros(room, 1), s.identifier = zeros(room, 4), s.flags = zeros(room, 1);
    s.length = zeros(room, 1), s.data = zeros(room, 8), s.wide_rows = zeros(room, 8), s.wide_data = zeros(room, WIDE);
    s.odd = zeros(s.odd_room, 24);
    parse_text(&s);
    assert(s.consumed <= size && s.frames <= room && s.channels <= MOST_CHANNELS);
    assert(s.lines == s.frames + s.comments + s.skipped + s.odd_count);
    assert(s.consumed == 0 || text[s.consumed - 1] == '\n');
    for (size_t row = 0; row < s.frames; row++) {
        assert(s.time_ns[row] >= 0 && s.channel[row] < s.channels && s.length[row] <= (s.flags[row] & FD ? WIDE : 8));
        assert(s.identifier[row] <= (s.flags[row] & (EXTENDED | ERROR_FRAME) ? LARGEST_29_BIT : LARGEST_11_BIT));
    }
    for (size_t i = 0; i < s.odd_count; i++) {
        size_t offset = (size_t)s.odd[3 * i + 1], length = (size_t)s.odd[3 * i + 2];
        assert(offset + length < s.consumed && text[offset + length] == '\n');
    }
    mark(s.time_ns, s.channel, s.identifier, s.flags, s.length, s.data, s.frames, s.wide_rows, s.wide_data, s.wide,
         max_keys);
    *channels = s.channels;
    size_t consumed = s.consumed;
    free(exact), free(s.time_ns), free(s.channel), free(s.identifier), free(s.flags), free(s.length), free(s.data);
    free(s.wide_rows), free(s.wide_data), free(s.odd);
    return consumed;
}

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc, (void)argv;
    text_init();
    wire_init();
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *input, size_t size) {
    if (size < 3) return 0;
    size_t room = 1 + input[0] % 64, chunk = 50 + 16 * (size_t)input[1], max_keys = 1 + (size_t)input[2] * 16;
    input += 3, size -= 3;

    uint8_t *names = zeros(MOST_CHANNELS, NAME_SIZE);
    size_t channels = 0;
    for (size_t begin = 0, end = 0; end < size;) {
        end = size - end < chunk ? size : end + chunk;
        size_t taken;
        while ((taken = parse(input + begin, end - begin, room, max_keys, names, &channels))) begin += taken;
    }
    free(names);

    size_t n = size / 19, wide = n / 4;
    int64_t *time_ns = copy(input, 8 * n), *wide_rows = zeros(wide, 8);
    uint8_t *channel = copy(input + 8 * n, n), *flags = copy(input + 9 * n, n), *length = copy(input + 10 * n, n);
    uint8_t *data = copy(input + 11 * n, 8 * n), *wide_data = zeros(wide, WIDE);
    uint32_t *identifier = copy(input, 4 * n);
    for (size_t i = 0; i < wide; i++) wide_rows[i] = (int64_t)(3 * i) - (i == 0);
    mark(time_ns, channel, identifier, flags, length, data, n, wide_rows, wide_data, wide, max_keys);
    free(time_ns), free(wide_rows), free(channel), free(flags), free(length), free(data), free(wide_data);
    free(identifier);
    return 0;
}
