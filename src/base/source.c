/* The only opener of inputs. Reading order: sources_open and what it calls, source_read, then sources_name. From a byte
 * to its line: position.c. */
#include "base/source.h"
#include "base/source_lines.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

struct source_file {
  int fd;
};

struct sources {
  struct arena *arena;
  struct source **items; /* item i has id i + 1 */
  size_t count, capacity;
  bool stdin_taken;
};

struct sources *sources_new(struct arena *arena)
{
  struct sources *sources = ARENA_NEW(arena, struct sources);
  sources->arena = arena;
  return sources;
}

static struct source *source_add(struct sources *sources, const char *path)
{
  sources->items =
      arena_grow(sources->arena, sources->items, sources->count, &sources->capacity, sizeof *sources->items);
  struct source *source = ARENA_NEW(sources->arena, struct source);
  sources->items[sources->count++] = source;
  source->id = (uint32_t)sources->count;
  source->path = arena_slice(sources->arena, slice_of(path));
  source->name = source->path;
  source->bytes = (struct slice){"", 0};
  return source;
}

static struct place place_of(const struct source *source)
{
  return (struct place){source->id, 0, 0};
}

bool source_refuse(struct problems *problems, const struct source *source, int error)
{
  switch (error) {
  case ENOENT:
  case ENOTDIR:
    return problems_add(problems, place_of(source), "cannot read: no such file");
  case EACCES:
  case EPERM:
    return problems_add(problems, place_of(source), "cannot read: permission denied");
  case EISDIR:
    return problems_add(problems, place_of(source), "cannot read: is a directory");
  default: {
    char text[128];
    if (strerror_r(error, text, sizeof text) != 0)
      text[0] = '\0';
    return problems_add(problems, place_of(source), "cannot read: %s", text);
  }
  }
}

static bool refuse_size(struct problems *problems, const struct source *source, uint64_t size, uint64_t limit)
{
  const double megabyte = 1024.0 * 1024.0;
  double shown = (double)size / megabyte;
  /* "is 8.0 MB; the limit is 8 MB" would read as a mistake. */
  if (size - limit < 1024 * 1024 / 10)
    return problems_add(problems, place_of(source), "is over the limit of %.4g MB by %llu byte%s",
                        (double)limit / megabyte, (unsigned long long)(size - limit), size - limit == 1 ? "" : "s");
  return problems_add(problems, place_of(source), "is %.1f MB; the limit is %.4g MB", shown, (double)limit / megabyte);
}

/* Bytes read, 0 at the end, -1 with errno. Waits when standard input happens to be non-blocking. */
static ssize_t read_some(int fd, char *to, size_t size)
{
  const size_t most = (size_t)1 << 30;
  for (;;) {
    ssize_t got = read(fd, to, size < most ? size : most);
    if (got >= 0)
      return got;
    if (errno == EAGAIN || errno == EWOULDBLOCK) {
      struct pollfd wait = {.fd = fd, .events = POLLIN};
      poll(&wait, 1, -1);
    } else if (errno != EINTR) {
      return -1;
    }
  }
}

/* The size at opening counts: what is appended while a log is still being written is left for the next run, and a file
 * that shrinks is taken as far as it goes. */
static bool read_regular(struct sources *sources, struct source *source, int fd, uint64_t size,
                         struct problems *problems)
{
  char *bytes = arena_alloc(sources->arena, (size_t)size + 1);
  size_t have = 0;
  while (have < size) {
    ssize_t got = read_some(fd, bytes + have, (size_t)size - have);
    if (got < 0)
      return source_refuse(problems, source, errno);
    if (got == 0)
      break;
    have += (size_t)got;
  }
  source->bytes = (struct slice){bytes, have};
  return true;
}

static bool read_stream(struct sources *sources, struct source *source, int fd, uint64_t limit,
                        struct problems *problems)
{
  size_t have = 0, room = 64 * 1024;
  char *bytes = arena_alloc(sources->arena, room);
  for (;;) {
    if (have == room) {
      char *more = arena_alloc(sources->arena, room * 2);
      memcpy(more, bytes, have);
      bytes = more;
      room *= 2;
    }
    ssize_t got = read_some(fd, bytes + have, room - have);
    if (got < 0)
      return source_refuse(problems, source, errno);
    if (got == 0)
      break;
    have += (size_t)got;
    if (have > limit)
      return problems_add(problems, place_of(source), "is over the limit of %.4g MB",
                          (double)limit / (1024.0 * 1024.0));
  }
  source->bytes = (struct slice){bytes, have};
  return true;
}

static void close_file(void *context)
{
  close(((struct source_file *)context)->fd);
}

/* *fd stays open for as long as the sources live, and is -1 then. */
static bool read_head(struct sources *sources, struct source *source, int *fd, uint64_t size, size_t keep,
                      struct problems *problems)
{
  if (!read_regular(sources, source, *fd, keep, problems))
    return false;
  if (source->bytes.size < keep)
    return true;
  source->file_size = size;
  source->file = ARENA_NEW(sources->arena, struct source_file);
  source->file->fd = *fd;
  *fd = -1;
  arena_on_free(sources->arena, close_file, source->file);
  return true;
}

static bool read_descriptor(struct sources *sources, struct source *source, int *open_fd, uint64_t limit, uint64_t keep,
                            struct problems *problems)
{
  int fd = *open_fd;
  struct stat status;
  if (fstat(fd, &status) != 0)
    return source_refuse(problems, source, errno);
  if (S_ISDIR(status.st_mode))
    return source_refuse(problems, source, EISDIR);
  if (!S_ISREG(status.st_mode)) {
    if (fd == STDIN_FILENO)
      return read_stream(sources, source, fd, limit, problems);
    problems_add(problems, place_of(source), "cannot read: is not a regular file");
    problems_hint(problems, "give a pipe as standard input, named '-'");
    return false;
  }
  /* Standard input redirected from a file may stand anywhere in it: take it as a stream. */
  if (fd == STDIN_FILENO)
    return read_stream(sources, source, fd, limit, problems);
  if ((uint64_t)status.st_size > limit)
    return refuse_size(problems, source, (uint64_t)status.st_size, limit);
  if ((uint64_t)status.st_size > keep)
    return read_head(sources, source, open_fd, (uint64_t)status.st_size, (size_t)keep, problems);
  return read_regular(sources, source, fd, (uint64_t)status.st_size, problems);
}

static const struct source *open_source(struct sources *sources, const char *path, uint64_t limit, uint64_t keep,
                                        struct problems *problems)
{
  struct source *source = source_add(sources, path);
  int fd = STDIN_FILENO;
  if (strcmp(path, "-") == 0) {
    source->name = slice_of("standard input");
    if (sources->stdin_taken) {
      problems_add(problems, place_of(source), "cannot be read twice: '-' was given for two inputs");
      return NULL;
    }
    sources->stdin_taken = true;
    return read_descriptor(sources, source, &fd, limit, keep, problems) ? source : NULL;
  }
  fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
  if (fd < 0) {
    source_refuse(problems, source, errno);
    return NULL;
  }
  bool done = read_descriptor(sources, source, &fd, limit, keep, problems);
  if (fd >= 0)
    close(fd);
  return done ? source : NULL;
}

const struct source *sources_open(struct sources *sources, const char *path, uint64_t limit, struct problems *problems)
{
  return open_source(sources, path, limit, UINT64_MAX, problems);
}

const struct source *sources_open_long(struct sources *sources, const char *path, uint64_t limit, size_t keep,
                                       struct problems *problems)
{
  return open_source(sources, path, limit, keep, problems);
}

bool source_read(const struct source *source, uint64_t from, char *to, size_t size, size_t *got)
{
  *got = 0;
  if (source->file == NULL) {
    size_t rest = from < source->bytes.size ? source->bytes.size - (size_t)from : 0;
    *got = size < rest ? size : rest;
    if (*got > 0)
      memcpy(to, source->bytes.at + from, *got);
    return true;
  }
  while (*got < size) {
    ssize_t read = pread(source->file->fd, to + *got, size - *got, (off_t)(from + *got));
    if (read < 0 && errno != EINTR)
      return false;
    if (read == 0)
      break;
    *got += read > 0 ? (size_t)read : 0;
  }
  return true;
}

const struct source *sources_memory(struct sources *sources, const char *name, struct slice bytes)
{
  struct source *source = source_add(sources, name);
  source->path = (struct slice){"", 0};
  source->bytes = bytes;
  return source;
}

const struct source *sources_frozen(struct sources *sources, const char *name, struct slice bytes)
{
  struct source *source = source_add(sources, name);
  source->path = (struct slice){"", 0};
  source->bytes = bytes;
  source->frozen = true;
  return source;
}

/* Takes the last part off a path ("a/./b//c" -> "c"); empty when there is none left. A part of "." is passed over. */
static struct slice part_take_last(struct slice *path)
{
  for (;;) {
    while (path->size > 0 && path->at[path->size - 1] == '/')
      path->size--;
    size_t from = path->size;
    while (from > 0 && path->at[from - 1] != '/')
      from--;
    struct slice part = slice_part(*path, from, path->size);
    path->size = from;
    if (!slice_is(part, "."))
      return part;
  }
}

/* Order of paths read from their last part to their first; *shared counts the parts that agree. */
static int path_compare(struct slice a, struct slice b, size_t *shared)
{
  for (*shared = 0;; (*shared)++) {
    struct slice x = part_take_last(&a), y = part_take_last(&b);
    int order = slice_compare(x, y);
    if (order != 0 || x.size == 0)
      return order;
  }
}

static int source_compare(const void *a, const void *b)
{
  const struct source *x = *(struct source *const *)a, *y = *(struct source *const *)b;
  size_t shared;
  int order = path_compare(x->path, y->path, &shared);
  return order != 0 ? order : (x->id > y->id) - (x->id < y->id);
}

/* The last `parts` parts of a path, joined by single slashes. */
static struct slice path_tail(struct arena *arena, struct slice path, size_t parts)
{
  struct slice whole = path, part = part_take_last(&path);
  if (part.size == 0)
    return whole;
  const char *name = arena_text(arena, part);
  while (--parts > 0) {
    part = part_take_last(&path);
    if (part.size == 0)
      break;
    name = arena_print(arena, "%.*s/%s", SLICE_ARG(part), name);
  }
  return slice_of(name);
}

static bool path_under(struct arena *arena, struct slice path, const char *root, struct slice *out)
{
  struct slice base = slice_of(root), rest = path;
  if ((base.size > 0 && base.at[0] == '/') != (path.size > 0 && path.at[0] == '/'))
    return false;
  struct slice scan = base;
  size_t base_parts = 0, parts = 0, shared;
  while (part_take_last(&scan).size > 0)
    base_parts++;
  while (part_take_last(&rest).size > 0)
    parts++;
  if (base_parts == 0 || parts <= base_parts)
    return false;
  struct slice head = path;
  for (size_t i = base_parts; i < parts; i++)
    part_take_last(&head);
  if (path_compare(head, base, &shared) != 0)
    return false;
  *out = path_tail(arena, path, parts - base_parts);
  return true;
}

/* Parts that the name of items[i] needs so that no neighbour in order, and so no other path, ends alike. */
static size_t parts_needed(struct source *const *items, size_t count, size_t i)
{
  size_t most = 0, shared;
  for (size_t j = i; j-- > 0;) {
    if (path_compare(items[i]->path, items[j]->path, &shared) != 0) {
      most = shared;
      break;
    }
  }
  for (size_t j = i + 1; j < count; j++) {
    if (path_compare(items[i]->path, items[j]->path, &shared) != 0) {
      most = shared > most ? shared : most;
      break;
    }
  }
  return most + 1;
}

void sources_name(struct sources *sources, const char *root)
{
  struct source **files = ARENA_ARRAY(sources->arena, sources->count, struct source *);
  size_t count = 0;
  for (size_t i = 0; i < sources->count; i++) {
    struct source *source = sources->items[i];
    if (source->path.size == 0 || slice_is(source->path, "-"))
      continue;
    if (root != NULL && path_under(sources->arena, source->path, root, &source->name))
      continue;
    files[count++] = source;
  }
  qsort(files, count, sizeof(struct source *), source_compare);
  for (size_t i = 0; i < count; i++)
    files[i]->name = path_tail(sources->arena, files[i]->path, parts_needed(files, count, i));
}

struct source *sources_item(struct sources *sources, uint32_t id)
{
  return id == 0 || id > sources->count ? NULL : sources->items[id - 1];
}

const struct source *sources_get(const struct sources *sources, uint32_t id)
{
  return id == 0 || id > sources->count ? NULL : sources->items[id - 1];
}

struct arena *sources_arena(const struct sources *sources)
{
  return sources->arena;
}
