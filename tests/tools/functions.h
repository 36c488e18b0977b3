/* The manual's table of functions, out of the rows of src/expr/builtin.def. Included by tests/tools/functions.c, which
 * writes it into the manual, and by tests/unit/test_expr_manual.c, which looks whether it is there. */
#ifndef KEYWAY_TESTS_FUNCTIONS_H
#define KEYWAY_TESTS_FUNCTIONS_H

#include <stddef.h>

#define FUNCTIONS_BEGIN "<!-- functions: written by `make docs` from the rows of src/expr/builtin.def -->\n"
#define FUNCTIONS_END "<!-- end of functions -->\n"

static const char *const functions_table[] = {
    "| function | result |\n|---|---|\n",
#define BUILTIN(symbol, name, least, most, check, signature, about) "| `" signature "` | " about " |\n",
#include "expr/builtin.def"
#undef BUILTIN
};

enum { FUNCTIONS_LINES = sizeof functions_table / sizeof *functions_table };

#endif
