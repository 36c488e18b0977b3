/* Where reports go. A file is written under a temporary name beside its target, so that the rename stays on one file
 * system, and is renamed when all reports are whole. What is no regular file (a terminal, a pipe) is written directly.
 * Reading order: outputs_open, output_begin, outputs_commit. */
#include "cli/output.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#define TEMPORARY_TRIES 100
#define REPORT_BUFFER (1u << 20)

static const char *error_text(struct arena *arena, int error)
{
  char text[128];
  return error != 0 && strerror_r(error, text, sizeof text) == 0 ? arena_print(arena, "%s", text)
                                                                 : "not all was written";
}

static bool is_input(const struct stat *target, const char *const *inputs, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    struct stat input;
    if (strcmp(inputs[i], "-") != 0 && stat(inputs[i], &input) == 0 && input.st_dev == target->st_dev &&
        input.st_ino == target->st_ino)
      return true;
  }
  return false;
}

/* A new file beside the target; its permissions follow the umask, which mkstemp's would not. -1 with errno. */
static int temporary_open(struct arena *arena, const char *target, const char **name)
{
  for (int i = 0; i < TEMPORARY_TRIES; i++) {
    *name = arena_print(arena, "%s.%ld-%d.part", target, (long)getpid(), i);
    int fd = open(*name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (fd >= 0 || errno != EEXIST)
      return fd;
  }
  return -1;
}

static bool output_begin(struct arena *arena, struct output *output, const char *const *inputs, size_t input_count,
                         struct problems *problems)
{
  struct stat status;
  bool exists = stat(output->target, &status) == 0;
  if (exists && is_input(&status, inputs, input_count)) {
    problems_add(problems, PLACE_NONE, "'--output %s' would overwrite an input", output->target);
    return false;
  }
  int fd = -1;
  if (exists && S_ISDIR(status.st_mode))
    errno = EISDIR;
  else if (exists && !S_ISREG(status.st_mode))
    fd = open(output->target, O_WRONLY | O_CLOEXEC | O_NOCTTY);
  else
    fd = temporary_open(arena, output->target, &output->temporary);
  if (fd < 0)
    output->temporary = NULL;
  output->stream = fd >= 0 ? fdopen(fd, "w") : NULL;
  /* Room for a whole report, so that what the system refuses is refused when it is flushed, with its reason. */
  if (output->stream != NULL)
    setvbuf(output->stream, arena_alloc(arena, REPORT_BUFFER), _IOFBF, REPORT_BUFFER);
  if (output->stream == NULL)
    return problems_add(problems, PLACE_NONE, "cannot write '%s': %s", output->target, error_text(arena, errno));
  return true;
}

bool outputs_open(struct arena *arena, const struct request *request, const char *const *inputs, size_t input_count,
                  struct outputs *out, struct problems *problems)
{
  out->count = request->output_count;
  out->items = ARENA_ARRAY(arena, out->count, struct output);
  bool done = true;
  for (size_t i = 0; i < out->count; i++) {
    struct output *output = &out->items[i];
    output->format = request->outputs[i].format;
    output->target = request->outputs[i].file;
    if (output->target == NULL)
      output->stream = stdout;
    else
      done = output_begin(arena, output, inputs, input_count, problems) && done;
  }
  if (!done)
    outputs_drop(out);
  return done;
}

const char *output_flush(struct arena *arena, FILE *stream, const char *name)
{
  bool failed = ferror(stream) != 0;
  errno = 0;
  if (fflush(stream) != 0)
    return arena_print(arena, "cannot write %s: %s", name, error_text(arena, errno));
  return failed ? arena_print(arena, "cannot write %s: not all was written", name) : NULL;
}

const char *outputs_commit(struct arena *arena, struct outputs *outputs)
{
  const char *why = NULL;
  for (size_t i = 0; i < outputs->count && why == NULL; i++) {
    struct output *output = &outputs->items[i];
    const char *name = output->target == NULL ? "standard output" : arena_print(arena, "'%s'", output->target);
    why = output_flush(arena, output->stream, name);
    if (output->target == NULL || why != NULL)
      continue;
    FILE *stream = output->stream;
    output->stream = NULL;
    /* A full disk may show only here (quota, network). */
    if (fclose(stream) != 0 || (output->temporary != NULL && rename(output->temporary, output->target) != 0))
      why = arena_print(arena, "cannot write %s: %s", name, error_text(arena, errno));
    else
      output->temporary = NULL;
  }
  outputs_drop(outputs);
  return why;
}

void outputs_drop(struct outputs *outputs)
{
  for (size_t i = 0; i < outputs->count; i++) {
    struct output *output = &outputs->items[i];
    if (output->target != NULL && output->stream != NULL)
      fclose(output->stream);
    if (output->temporary != NULL)
      unlink(output->temporary);
    output->stream = NULL;
    output->temporary = NULL;
  }
}
