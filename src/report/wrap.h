/* Text set in lines of a given width. Included by report/ and cli/. */
#ifndef KEYWAY_REPORT_WRAP_H
#define KEYWAY_REPORT_WRAP_H

#include "base/slice.h"

#include <stdio.h>

#define WRAP_WIDTH 88     /* columns, when nothing else is asked for */
#define WRAP_NARROWEST 40 /* a narrower width is taken as this */

/* One paragraph in the making. */
struct wrap {
  FILE *out;
  unsigned width;  /* columns of a line */
  unsigned indent; /* columns before the second and later lines */
  unsigned column; /* where the next word goes, from 0 */
  unsigned blanks; /* before it, not yet written */
  bool started;    /* a word stands on this line */
};

/* Begins a paragraph: `first` columns before the first line, `indent` before the others. */
void wrap_open(struct wrap *wrap, FILE *out, unsigned width, unsigned first, unsigned indent);
/* Adds the words of a text, escaped; blanks and line ends of any number part them. A number stays on one line with the
 * word behind it ("80 degC"). A word that fits no line is cut. */
void wrap_add(struct wrap *wrap, struct slice text);
/* Moves to a column on this line (at least one blank behind what is there); for labels and tables. */
void wrap_to(struct wrap *wrap, unsigned column);
/* Writes bytes that take no column: colours. */
void wrap_mark(struct wrap *wrap, const char *code);
/* Ends the line. */
void wrap_close(struct wrap *wrap);

/* A whole paragraph in one call: the words of `label` and of `text`. */
void wrap_print(FILE *out, unsigned width, unsigned first, unsigned indent, const char *label, const char *text);

#endif
