/* From a byte of a source to its line and column. A long file is read again, a block at a time. Reading order:
 * sources_position, then the table of lines, then the line itself. */
#include "base/source_lines.h"

/* The table keeps one count a block of this many bytes, not one entry a line: 256 KB for the largest log. */
#define BLOCK_BYTES ((size_t)64 * 1024)
/* So much of a long file's line is shown on either side. */
#define SIDE_BYTES ((uint64_t)64 * 1024)

struct source_lines {
  size_t count;
  uint64_t *ends_before; /* line ends before each block */
};

/* Bytes [from, to) of a source, a block at a time. */
struct walk {
  const struct source *source;
  uint64_t at, to;
  char *block; /* BLOCK_BYTES; NULL where the source is in memory */
};

/* Up to the next multiple of BLOCK_BYTES; empty at the end, also of a file that cannot be read any more. */
static struct slice walk_next(struct walk *walk)
{
  uint64_t end = walk->at - walk->at % BLOCK_BYTES + BLOCK_BYTES;
  end = end < walk->to ? end : walk->to;
  size_t size = end > walk->at ? (size_t)(end - walk->at) : 0;
  struct slice part = {walk->block, size};
  if (walk->block == NULL)
    part = slice_part(walk->source->bytes, (size_t)walk->at, (size_t)walk->at + size);
  else if (size > 0 && !source_read(walk->source, walk->at, walk->block, size, &part.size))
    part.size = 0;
  walk->at += part.size;
  if (part.size < size)
    walk->to = walk->at;
  return part;
}

static uint64_t line_ends(struct slice part)
{
  uint64_t count = 0;
  const char *from = part.at, *to = part.at + part.size;
  while (from < to && (from = memchr(from, '\n', (size_t)(to - from))) != NULL) {
    count++;
    from++;
  }
  return count;
}

static struct source_lines *lines_build(struct arena *arena, struct walk walk)
{
  struct source_lines *lines = ARENA_NEW(arena, struct source_lines);
  walk.at = 0;
  walk.to = source_size(walk.source);
  lines->count = (size_t)(walk.to / BLOCK_BYTES) + 1;
  lines->ends_before = ARENA_ARRAY(arena, lines->count, uint64_t);
  for (size_t i = 1; i < lines->count; i++)
    lines->ends_before[i] = lines->ends_before[i - 1] + line_ends(walk_next(&walk));
  return lines;
}

static bool is_continuation(char c)
{
  return ((unsigned char)c & 0xC0u) == 0x80u;
}

/* Behind the last line end before `at`. */
static uint64_t line_start(struct walk walk, uint64_t at)
{
  while (at > 0) {
    uint64_t from = (at - 1) - (at - 1) % BLOCK_BYTES;
    walk.at = from;
    walk.to = at;
    struct slice part = walk_next(&walk);
    while (part.size > 0 && part.at[part.size - 1] != '\n')
      part.size--;
    if (part.size > 0)
      return from + part.size;
    at = from;
  }
  return 0;
}

/* The next line end, or the end; looks no further than `most` bytes of a long file. */
static uint64_t line_end(struct walk walk, uint64_t at, uint64_t most)
{
  walk.at = at;
  walk.to = source_size(walk.source);
  if (walk.source->file != NULL && walk.to - at > most)
    walk.to = at + most;
  for (;;) {
    uint64_t from = walk.at;
    struct slice part = walk_next(&walk);
    const char *end = part.size > 0 ? memchr(part.at, '\n', part.size) : NULL;
    if (end != NULL)
      return from + (uint64_t)(end - part.at);
    if (part.size == 0)
      return from;
  }
}

/* The whole line around `at`, without line end or byte order mark; *start is the offset of its first byte. */
static struct slice line_around(struct arena *arena, struct walk walk, uint64_t at, uint64_t *start)
{
  const struct source *source = walk.source;
  uint64_t from = line_start(walk, at), to = line_end(walk, at, SIDE_BYTES);
  if (source->file != NULL && at - from > SIDE_BYTES)
    from = at - SIDE_BYTES;
  size_t size = (size_t)(to - from);
  struct slice text = {NULL, size};
  if (source->file == NULL) {
    text = slice_part(source->bytes, (size_t)from, (size_t)to);
  } else {
    char *copy = arena_alloc(arena, size);
    if (!source_read(source, from, copy, size, &text.size))
      text.size = 0;
    text.at = copy;
  }
  *start = from;
  if (to < source_size(source) && text.size > 0 && text.at[text.size - 1] == '\r')
    text.size--;
  if (from == 0 && text.size >= 3 && memcmp(text.at, "\xEF\xBB\xBF", 3) == 0) {
    text = slice_part(text, 3, text.size);
    *start = 3;
  }
  return text;
}

/* Characters of the line before `at`, of a line whose text was cut at its start. */
static uint64_t characters_cut(struct walk walk, uint64_t to)
{
  uint64_t count = 0;
  walk.at = line_start(walk, to);
  walk.to = to;
  for (struct slice part = walk_next(&walk); part.size > 0; part = walk_next(&walk)) {
    for (size_t i = 0; i < part.size; i++)
      count += !is_continuation(part.at[i]);
  }
  return count;
}

static uint64_t line_of(struct walk walk, uint64_t at)
{
  const struct source_lines *lines = walk.source->lines;
  size_t block = (size_t)(at / BLOCK_BYTES);
  walk.at = block * BLOCK_BYTES;
  walk.to = at;
  return 1 + lines->ends_before[block] + line_ends(walk_next(&walk));
}

bool sources_position(struct sources *sources, struct place place, struct position *out)
{
  *out = (struct position){.name = {"", 0}, .text = {"", 0}};
  struct source *source = sources_item(sources, place.source);
  if (source == NULL)
    return false;
  struct arena *arena = sources_arena(sources);
  char block[BLOCK_BYTES];
  struct walk walk = {.source = source, .block = source->file != NULL ? block : NULL};
  uint64_t size = source_size(source), at = place.start < size ? place.start : size, start = 0;
  uint64_t end = place.end < size ? place.end : size;
  out->name = source->name;
  if (source->lines == NULL)
    source->lines = lines_build(arena, walk);
  out->line = line_of(walk, at);
  struct slice text = line_around(arena, walk, at, &start);
  size_t from = at > start ? (size_t)(at - start) : 0;
  size_t to = end > start ? (size_t)(end - start) : 0;
  from = from < text.size ? from : text.size;
  while (from > 0 && from < text.size && is_continuation(text.at[from]))
    from--;
  to = to < text.size ? to : text.size;
  to = to > from ? to : from + 1;
  while (to < text.size && is_continuation(text.at[to]))
    to++;
  out->text = text;
  out->from = from;
  out->to = to;
  out->column = 1 + (source->file != NULL && start > 3 ? characters_cut(walk, start) : 0);
  for (size_t i = 0; i < from; i++)
    out->column += !is_continuation(text.at[i]);
  return true;
}
