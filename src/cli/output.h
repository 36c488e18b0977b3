/* Where reports go: standard output, or files that appear whole or not at all. Included by cli/. */
#ifndef KEYWAY_CLI_OUTPUT_H
#define KEYWAY_CLI_OUTPUT_H

#include "cli/request.h"

struct output {
  const struct report_format *format;
  FILE *stream;
  const char *target;    /* NULL: standard output */
  const char *temporary; /* beside the target, renamed in the end; NULL: written directly */
};

struct outputs {
  size_t count;
  struct output *items;
};

/* Opens all of them. Refuses (problem of usage) what cannot be created and what is one of the `inputs`: nothing that
 * was read is ever overwritten. On refusal nothing is left behind. */
bool outputs_open(struct arena *arena, const struct request *request, const char *const *inputs, size_t input_count,
                  struct outputs *out, struct problems *problems);

/* Closes all and puts the files in their places. Returns NULL, or one line that says what could not be written; then no
 * further file is put in its place. */
const char *outputs_commit(struct arena *arena, struct outputs *outputs);

/* Closes all and removes what was begun. */
void outputs_drop(struct outputs *outputs);

/* Flushes a stream; NULL, or one line that says why it could not be written. */
const char *output_flush(struct arena *arena, FILE *stream, const char *name);

#endif
