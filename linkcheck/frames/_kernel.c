#include <Python.h>
static struct PyModuleDef m = {PyModuleDef_HEAD_INIT, "_kernel", NULL, -1, NULL};
PyMODINIT_FUNC PyInit__kernel(void) { return PyModule_Create(&m); }
