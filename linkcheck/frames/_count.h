/* Counting marked frames by key: how many, how many bits, first and last time, and a histogram of gaps; and the longest
 * gap of each source address. The same, with numpy, stands in traffic/tally.py; the tests hold the two equal.
 *
 * A gap's bin is read from the bits of its double: exponent and top of the fraction, so bins are even on a log scale.
 */
#ifndef LINKCHECK_COUNT_H
#define LINKCHECK_COUNT_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

typedef struct {
    size_t n;
    const uint32_t *key, *identifier;
    const uint16_t *wire;
    const int64_t *time_ns, *gap_ns, *source_gap_ns;
    size_t keys; /* rows of the four tables by key */
    int64_t *count, *bits, *first_ns, *last_ns;
    size_t histograms; /* keys below it have one */
    size_t bins;
    int shift;      /* bits of the double below the bin's number */
    int64_t lowest; /* number of the first bin */
    uint32_t *histogram;
    int64_t *longest_ns; /* by source address */
} Count;

static size_t bin_of(const Count *c, int64_t gap_ns) {
    double value = (double)gap_ns;
    int64_t bits;
    memcpy(&bits, &value, sizeof bits);
    int64_t bin = (bits >> c->shift) - c->lowest;
    return bin < 0 ? 0 : (size_t)bin >= c->bins ? c->bins - 1 : (size_t)bin;
}

static void count_by_key(Count *c) {
    for (size_t i = 0; i < c->n; i++) {
        size_t key = c->key[i];
        if (key >= c->keys) continue;
        int64_t now = c->time_ns[i], gap = c->gap_ns[i];
        c->count[key]++;
        c->bits[key] += c->wire[i];
        c->last_ns[key] = now;
        if (gap < 0) {
            if (now < c->first_ns[key]) c->first_ns[key] = now;
        } else if (key < c->histograms) {
            c->histogram[key * c->bins + bin_of(c, gap)]++;
        }
        int64_t *longest = &c->longest_ns[c->identifier[i] & 0xFF];
        if (c->source_gap_ns[i] > *longest) *longest = c->source_gap_ns[i];
    }
}

#endif
