/* The compiled kernel's door: checks the sizes of what Python hands in, lets go of the GIL, and calls the core.
 *
 * `parse` turns candump log text into columns (_text.h), `annotate` columns into marks (_wire.h), `count` marks into
 * figures by key (_count.h); `move_keys` copies the hash table of keys into a larger one. All memory belongs to the caller: numpy arrays and bytearrays, taken as
 * buffers. Stable ABI of Python 3.11, no numpy headers.
 */
#define PY_SSIZE_T_CLEAN
#ifndef Py_LIMITED_API
#define Py_LIMITED_API 0x030B0000
#endif
#include <Python.h>

#include "_count.h"
#include "_text.h"
#include "_wire.h"

/* Whether each buffer holds `rows[i]` items of `sizes[i]` bytes; sets an exception if not. */
static int all_hold(const Py_buffer *buffers, const Py_ssize_t *sizes, const Py_ssize_t *rows, int count) {
    for (int i = 0; i < count; i++) {
        if (rows[i] < 0 || buffers[i].len / sizes[i] < rows[i]) {
            PyErr_Format(PyExc_ValueError, "buffer %d is too small", i);
            return 0;
        }
    }
    return 1;
}

static void release(Py_buffer *buffers, int count) {
    for (int i = 0; i < count; i++) PyBuffer_Release(&buffers[i]);
}

static PyObject *parse(PyObject *self, PyObject *args) {
    (void)self;
    enum { TEXT, TIME, CHANNEL, IDENTIFIER, FLAGS, LENGTH, DATA, WIDE_ROWS, WIDE_DATA, NAMES, ODD, BUFFERS };
    static const Py_ssize_t sizes[BUFFERS] = {1, 8, 1, 4, 1, 1, 8, 8, WIDE, NAME_SIZE, 24};
    Py_buffer b[BUFFERS];
    Py_ssize_t begin, end, frames, room, wide, channels, keep;
    if (!PyArg_ParseTuple(args, "y*nnw*w*w*w*w*w*w*w*nnnw*nw*n", &b[TEXT], &begin, &end, &b[TIME], &b[CHANNEL],
                          &b[IDENTIFIER], &b[FLAGS], &b[LENGTH], &b[DATA], &b[WIDE_ROWS], &b[WIDE_DATA], &frames,
                          &room, &wide, &b[NAMES], &channels, &b[ODD], &keep)) {
        return NULL;
    }
    const Py_ssize_t rows[BUFFERS] = {end, room, room, room, room, room, room, wide, wide, MOST_CHANNELS, 1};
    PyObject *result = NULL;
    if (begin < 0 || begin > end || frames < 0 || frames > room || channels < 0 || channels > MOST_CHANNELS ||
        keep < 0) {
        PyErr_SetString(PyExc_ValueError, "a count is out of range");
    } else if (all_hold(b, sizes, rows, BUFFERS)) {
        Parse s = {
            .text = (const uint8_t *)b[TEXT].buf + begin,
            .end = (const uint8_t *)b[TEXT].buf + end,
            .time_ns = b[TIME].buf,
            .channel = b[CHANNEL].buf,
            .identifier = b[IDENTIFIER].buf,
            .flags = b[FLAGS].buf,
            .length = b[LENGTH].buf,
            .data = b[DATA].buf,
            .wide_rows = b[WIDE_ROWS].buf,
            .wide_data = b[WIDE_DATA].buf,
            .room = (size_t)room,
            .frames = (size_t)frames,
            .wide_room = (size_t)b[WIDE_ROWS].len / 8 < (size_t)b[WIDE_DATA].len / WIDE ? (size_t)b[WIDE_ROWS].len / 8
                                                                                       : (size_t)b[WIDE_DATA].len / WIDE,
            .wide = (size_t)wide,
            .names = b[NAMES].buf,
            .channels = (size_t)channels,
            .odd = b[ODD].buf,
            .odd_room = (size_t)b[ODD].len / 24,
            .keep = (size_t)keep,
        };
        Py_BEGIN_ALLOW_THREADS parse_text(&s);
        Py_END_ALLOW_THREADS result = Py_BuildValue(
            "nnnnnnnn", (Py_ssize_t)s.consumed, (Py_ssize_t)s.frames, (Py_ssize_t)s.wide, (Py_ssize_t)s.channels,
            (Py_ssize_t)s.lines, (Py_ssize_t)s.comments, (Py_ssize_t)s.skipped, (Py_ssize_t)s.odd_count);
    }
    release(b, BUFFERS);
    return result;
}

static PyObject *annotate(PyObject *self, PyObject *args) {
    (void)self;
    enum {
        TIME, CHANNEL, IDENTIFIER, FLAGS, LENGTH, DATA, WIDE_ROWS, WIDE_DATA,             /* in */
        WIRE, DOMINANT, FAST, KEY, GAP, SOURCE_GAP, BUS_GAP,                              /* out */
        TABLE, SHARED, SOURCE_LAST, BUS_LAST, KEY_CHANNEL, KEY_FLAGS, KEY_IDENTIFIER, BUFFERS /* state */
    };
    static const Py_ssize_t sizes[BUFFERS] = {8, 1, 4, 1, 1, 8, 8, WIDE, 2, 2, 2, 4, 8, 8, 8, sizeof(Key), sizeof(Key),
                                              8, 8, 1, 1, 4};
    Py_buffer b[BUFFERS];
    Py_ssize_t row, n, wide, keys, max_keys;
    if (!PyArg_ParseTuple(args, "nnny*y*y*y*y*y*y*y*w*w*w*w*w*w*w*w*w*w*w*w*w*w*nn", &row, &n, &wide, &b[TIME],
                          &b[CHANNEL], &b[IDENTIFIER], &b[FLAGS], &b[LENGTH], &b[DATA], &b[WIDE_ROWS], &b[WIDE_DATA],
                          &b[WIRE], &b[DOMINANT], &b[FAST], &b[KEY], &b[GAP], &b[SOURCE_GAP], &b[BUS_GAP], &b[TABLE],
                          &b[SHARED], &b[SOURCE_LAST], &b[BUS_LAST], &b[KEY_CHANNEL], &b[KEY_FLAGS],
                          &b[KEY_IDENTIFIER], &keys, &max_keys)) {
        return NULL;
    }
    Py_ssize_t rows[BUFFERS] = {n, n, n, n, n, n, wide, wide, n, n, n, n, n, n, n, 2, 1, 65536, 256, max_keys, max_keys,
                                max_keys};
    size_t slots = (size_t)b[TABLE].len / sizeof(Key);
    PyObject *result = NULL;
    if (row < 0 || keys < 0 || keys > max_keys || max_keys < 1 || (slots & (slots - 1)) || 2 * (size_t)keys > slots + 2) {
        PyErr_SetString(PyExc_ValueError, "a count is out of range");
    } else if (all_hold(b, sizes, rows, BUFFERS)) {
        Annotate a = {
            .n = (size_t)n,
            .time_ns = b[TIME].buf,
            .channel = b[CHANNEL].buf,
            .identifier = b[IDENTIFIER].buf,
            .flags = b[FLAGS].buf,
            .length = b[LENGTH].buf,
            .data = b[DATA].buf,
            .wide = (size_t)wide,
            .wide_rows = b[WIDE_ROWS].buf,
            .wide_data = b[WIDE_DATA].buf,
            .wire = b[WIRE].buf,
            .dominant = b[DOMINANT].buf,
            .fast = b[FAST].buf,
            .key = b[KEY].buf,
            .gap_ns = b[GAP].buf,
            .source_gap_ns = b[SOURCE_GAP].buf,
            .bus_gap_ns = b[BUS_GAP].buf,
            .table = b[TABLE].buf,
            .slots = slots,
            .shared = b[SHARED].buf,
            .source_last = b[SOURCE_LAST].buf,
            .bus_last = b[BUS_LAST].buf,
            .key_channel = b[KEY_CHANNEL].buf,
            .key_flags = b[KEY_FLAGS].buf,
            .key_identifier = b[KEY_IDENTIFIER].buf,
            .keys = (size_t)keys,
            .max_keys = (size_t)max_keys,
        };
        size_t reached;
        Py_BEGIN_ALLOW_THREADS reached = annotate_rows(&a, (size_t)row);
        Py_END_ALLOW_THREADS result = Py_BuildValue("nni", (Py_ssize_t)reached, (Py_ssize_t)a.keys, a.any_fast);
    }
    release(b, BUFFERS);
    return result;
}

static PyObject *move(PyObject *self, PyObject *args) {
    (void)self;
    Py_buffer from, to;
    if (!PyArg_ParseTuple(args, "y*w*", &from, &to)) return NULL;
    size_t count = (size_t)from.len / sizeof(Key), slots = (size_t)to.len / sizeof(Key);
    int fits = slots > count && !(slots & (slots - 1));
    if (fits) {
        move_keys(from.buf, count, to.buf, slots);
    } else {
        PyErr_SetString(PyExc_ValueError, "the new table is not larger, or no power of two");
    }
    PyBuffer_Release(&from);
    PyBuffer_Release(&to);
    if (!fits) return NULL;
    Py_RETURN_NONE;
}

static PyObject *count(PyObject *self, PyObject *args) {
    (void)self;
    enum {
        KEY, IDENTIFIER, WIRE, TIME, GAP, SOURCE_GAP,                 /* in */
        COUNT, BITS, FIRST, LAST, HISTOGRAM, LONGEST, BUFFERS /* out */
    };
    static const Py_ssize_t sizes[BUFFERS] = {4, 4, 2, 8, 8, 8, 8, 8, 8, 8, 4, 8};
    Py_buffer b[BUFFERS];
    Py_ssize_t n, keys, histograms, bins, lowest;
    int shift;
    if (!PyArg_ParseTuple(args, "nnnniny*y*y*y*y*y*w*w*w*w*w*w*", &n, &keys, &histograms, &bins, &shift, &lowest,
                          &b[KEY], &b[IDENTIFIER], &b[WIRE], &b[TIME], &b[GAP], &b[SOURCE_GAP], &b[COUNT], &b[BITS],
                          &b[FIRST], &b[LAST], &b[HISTOGRAM], &b[LONGEST])) {
        return NULL;
    }
    PyObject *result = NULL;
    if (histograms < 0 || bins < 1 || histograms > PY_SSIZE_T_MAX / bins / 4 || shift < 0 || shift > 62) {
        PyErr_SetString(PyExc_ValueError, "a count is out of range");
    } else {
        const Py_ssize_t rows[BUFFERS] = {n, n, n, n, n, n, keys, keys, keys, keys, histograms * bins, 256};
        if (all_hold(b, sizes, rows, BUFFERS)) {
            Count c = {
                .n = (size_t)n,
                .key = b[KEY].buf,
                .identifier = b[IDENTIFIER].buf,
                .wire = b[WIRE].buf,
                .time_ns = b[TIME].buf,
                .gap_ns = b[GAP].buf,
                .source_gap_ns = b[SOURCE_GAP].buf,
                .keys = (size_t)keys,
                .count = b[COUNT].buf,
                .bits = b[BITS].buf,
                .first_ns = b[FIRST].buf,
                .last_ns = b[LAST].buf,
                .histograms = (size_t)histograms,
                .bins = (size_t)bins,
                .shift = shift,
                .lowest = lowest,
                .histogram = b[HISTOGRAM].buf,
                .longest_ns = b[LONGEST].buf,
            };
            Py_BEGIN_ALLOW_THREADS count_by_key(&c);
            Py_END_ALLOW_THREADS result = Py_NewRef(Py_None);
        }
    }
    release(b, BUFFERS);
    return result;
}

static PyMethodDef methods[] = {
    {"parse", parse, METH_VARARGS, "Parse candump log text into columns."},
    {"annotate", annotate, METH_VARARGS, "Work out bits, keys and gaps of a batch."},
    {"count", count, METH_VARARGS, "Count marked frames by key."},
    {"move_keys", move, METH_VARARGS, "Copy a table of keys into a larger, empty one."},
    {NULL, NULL, 0, NULL},
};

static struct PyModuleDef module = {PyModuleDef_HEAD_INIT, "_kernel", "The compiled kernel.", 0, methods,
                                    NULL, NULL, NULL, NULL};

PyMODINIT_FUNC PyInit__kernel(void) {
    text_init();
    wire_init();
    return PyModule_Create(&module);
}
