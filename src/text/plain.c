/* Maps and lists by indentation, names of letters, figures, "_", ".", "-" and blanks, texts of one line, [lists] and
 * {maps}: whatever is not plainly one of these is left to libyaml, so that there is nothing here to be strict or
 * lenient about, and the tree is the same. That holds for everything that would be refused. Reading order: plain_read,
 * block, map_block and list_block, content, value, then flow. */
#include "text/plain.h"

#include "base/limits.h"

#include <stdlib.h>

#define NAME_MOST 1000 /* libyaml has a limit too */

struct reader {
  struct arena *arena, *scratch;
  uint32_t source;
  const char *bytes;
  size_t size, at, line; /* `line`: where the line at hand starts */
  char *texts;           /* room for every scalar with a NUL: each leaves out a byte of the file at least */
  struct node *stack;    /* children of lists and maps that are not at their end */
  size_t count, capacity;
  size_t nodes, depth;
};

static bool is_word(char c)
{
  return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || c == '_';
}

static char peek(const struct reader *r, size_t ahead)
{
  return ahead < r->size - r->at ? r->bytes[r->at + ahead] : '\n';
}

static bool at_end_of_word(char c)
{
  return c == ' ' || c == '\n';
}

static size_t column(const struct reader *r)
{
  return r->at - r->line;
}

static bool at_end(const struct reader *r)
{
  return r->at >= r->size;
}

static void skip_blanks(struct reader *r)
{
  while (!at_end(r) && r->bytes[r->at] == ' ')
    r->at++;
}

/* To the end of the line when nothing but blanks and a comment is left of it. */
static bool skip_rest(struct reader *r)
{
  size_t from = r->at;
  skip_blanks(r);
  if (!at_end(r) && r->bytes[r->at] == '#' && (r->at > from || column(r) == 0)) {
    const char *end = memchr(r->bytes + r->at, '\n', r->size - r->at);
    r->at = end != NULL ? (size_t)(end - r->bytes) : r->size;
  }
  return peek(r, 0) == '\n';
}

/* To the first byte of the next line that holds something, or the end. */
static void skip_lines(struct reader *r)
{
  while (!at_end(r) && skip_rest(r)) {
    r->at += !at_end(r);
    r->line = r->at;
  }
}

static struct node *push(struct reader *r)
{
  if (++r->nodes > LIMIT_YAML_NODES)
    return NULL;
  r->stack = arena_grow(r->scratch, r->stack, r->count, &r->capacity, sizeof *r->stack);
  return &r->stack[r->count++];
}

static bool push_scalar(struct reader *r, size_t from, size_t to, bool quoted)
{
  size_t inset = quoted ? 1 : 0, size = to - from - 2 * inset;
  struct node *node = size <= LIMIT_YAML_SCALAR ? push(r) : NULL;
  if (node == NULL)
    return false;
  memcpy(r->texts, r->bytes + from + inset, size);
  *node =
      (struct node){.kind = NODE_SCALAR, .place = {r->source, from, to}, .quoted = quoted, .text = {r->texts, size}};
  r->texts += size + 1;
  return true;
}

/* Bytes of the quoted text at hand with its quotes; 0 when it goes over its line, or has an escape. */
static size_t quoted_size(const struct reader *r)
{
  char quote = peek(r, 0);
  size_t size = 1;
  for (; peek(r, size) != quote; size++) {
    char c = peek(r, size);
    if (c == '\n' || (c == '\\' && quote == '"'))
      return 0;
  }
  return quote == '\'' && peek(r, size + 1) == quote ? 0 : size + 1;
}

static bool quoted(struct reader *r)
{
  size_t from = r->at, size = quoted_size(r);
  r->at += size;
  return size > 0 && push_scalar(r, from, r->at, true);
}

/* A letter, a figure or what may stand before one. */
static bool starts_plain(const struct reader *r)
{
  char c = peek(r, 0), next = peek(r, 1);
  return is_word(c) || c == '(' || (unsigned char)c >= 0x80 ||
         ((c == '-' || c == '+' || c == '.') && next >= '0' && next <= '9');
}

/* Up to a comment or the end of the line; within brackets also up to one of ",]}". */
static bool plain(struct reader *r, bool within)
{
  size_t from = r->at, to = from;
  if (!starts_plain(r))
    return false;
  for (; peek(r, 0) != '\n'; r->at++) {
    char c = r->bytes[r->at];
    if (c == ' ')
      continue;
    if (within && (c == ',' || c == ']' || c == '}'))
      break;
    if (c == '#' && r->bytes[r->at - 1] == ' ')
      break;
    if (c == '\t' || (c == ':' && (within || at_end_of_word(peek(r, 1)))) ||
        (within && strchr("[{?#&*!|\"'", c) != NULL))
      return false;
    to = r->at + 1;
  }
  r->at = to;
  return push_scalar(r, from, to, false);
}

static int compare_texts(const void *a, const void *b)
{
  return slice_compare(*(const struct slice *)a, *(const struct slice *)b);
}

static bool names_differ(struct reader *r, const struct node *map)
{
  if (map->count < 2)
    return true;
  struct slice *names = ARENA_ARRAY(r->scratch, map->count, struct slice);
  for (size_t i = 0; i < map->count; i++)
    names[i] = map->pairs[i].key.text;
  qsort(names, map->count, sizeof *names, compare_texts);
  for (size_t i = 1; i < map->count; i++) {
    if (slice_equal(names[i - 1], names[i]))
      return false;
  }
  return true;
}

/* Takes the children since `first` off the stack and puts their list or map there; `place` is for an empty one. */
static bool gather(struct reader *r, enum node_kind kind, size_t first, struct place place)
{
  size_t held = r->count - first;
  struct node node = {.kind = kind, .place = place, .count = kind == NODE_MAP ? held / 2 : held};
  const struct node *children = r->stack + first;
  if (held > 0)
    node.place = (struct place){r->source, children[0].place.start, children[held - 1].place.end};
  if (held > 0 && kind == NODE_LIST) {
    node.items = ARENA_ARRAY(r->arena, held, struct node);
    memcpy(node.items, children, held * sizeof *children);
  } else if (held > 0) {
    node.pairs = ARENA_ARRAY(r->arena, node.count, struct node_pair);
    for (size_t i = 0; i < node.count; i++)
      node.pairs[i] = (struct node_pair){children[2 * i], children[2 * i + 1]};
    if (!names_differ(r, &node))
      return false;
  }
  r->count = first;
  struct node *there = push(r);
  if (there != NULL)
    *there = node;
  return there != NULL;
}

/* Bytes of the name at hand, which a colon follows; 0: there is none. */
static size_t name_size(const struct reader *r, bool within)
{
  size_t size = 0;
  char quote = peek(r, 0);
  if (quote == '"' || quote == '\'') {
    size = quoted_size(r);
    size = size > 2 ? size : 0;
  } else if (is_word(quote)) {
    for (char c = peek(r, 0);
         is_word(c) || c == '.' || c == '-' || (c == ' ' && is_word(peek(r, size + 1))) || (c == ',' && !within);)
      c = peek(r, ++size);
  }
  return size > 0 && size <= NAME_MOST && peek(r, size) == ':' && at_end_of_word(peek(r, size + 1)) ? size : 0;
}

static bool name(struct reader *r, bool within)
{
  size_t size = name_size(r, within);
  if (size == 0 || !push_scalar(r, r->at, r->at + size, !is_word(peek(r, 0))))
    return false;
  r->at += size + 1;
  return true;
}

static bool value(struct reader *r, bool within);

/* [a, b] and {a: 1, b: 2}, over as many lines as it takes. */
static bool flow(struct reader *r)
{
  size_t from = r->at, first = r->count;
  enum node_kind kind = r->bytes[from] == '{' ? NODE_MAP : NODE_LIST;
  char close = kind == NODE_MAP ? '}' : ']';
  r->at++;
  skip_lines(r);
  for (bool more = peek(r, 0) != close; more;) {
    if (kind == NODE_MAP && !name(r, true))
      return false;
    skip_lines(r);
    if (!value(r, true))
      return false;
    skip_lines(r);
    more = peek(r, 0) == ',';
    r->at += more;
    if (!more && peek(r, 0) != close)
      return false;
    skip_lines(r);
  }
  r->at++;
  return gather(r, kind, first, (struct place){r->source, from, r->at});
}

static bool value(struct reader *r, bool within)
{
  char c = peek(r, 0);
  if (c == '"' || c == '\'')
    return quoted(r);
  if (c != '[' && c != '{')
    return plain(r, within);
  bool good = ++r->depth < LIMIT_YAML_DEPTH && flow(r);
  r->depth--;
  return good;
}

static bool at_dash(const struct reader *r)
{
  return peek(r, 0) == '-' && at_end_of_word(peek(r, 1));
}

static bool block(struct reader *r);

/* What stands behind a name's colon or an item's dash: on that line, or on the lines below it and further in. Up to the
 * line that follows. */
static bool content(struct reader *r, size_t outer, bool of_map)
{
  if (skip_rest(r)) {
    skip_lines(r);
    bool deeper = column(r) > outer, beside = of_map && column(r) == outer && at_dash(r);
    return !at_end(r) && (deeper || beside) && block(r);
  }
  if (!of_map && (at_dash(r) || name_size(r, false) > 0))
    return block(r);
  if (!value(r, false) || !skip_rest(r))
    return false;
  skip_lines(r);
  return at_end(r) || column(r) <= outer; /* deeper, the text would go on */
}

static bool map_block(struct reader *r)
{
  size_t here = column(r), first = r->count;
  do {
    if (!name(r, false) || !content(r, here, true))
      return false;
  } while (!at_end(r) && column(r) == here);
  return (at_end(r) || column(r) < here) && gather(r, NODE_MAP, first, PLACE_NONE);
}

static bool list_block(struct reader *r)
{
  size_t here = column(r), first = r->count;
  do {
    r->at++;
    if (!content(r, here, false))
      return false;
  } while (!at_end(r) && column(r) == here && at_dash(r));
  return (at_end(r) || column(r) <= here) && gather(r, NODE_LIST, first, PLACE_NONE);
}

static bool block(struct reader *r)
{
  bool good = ++r->depth < LIMIT_YAML_DEPTH && (at_dash(r) ? list_block(r) : map_block(r));
  r->depth--;
  return good;
}

const struct node *plain_read(struct arena *arena, const struct source *source, size_t skip)
{
  struct reader r = {.arena = arena,
                     .source = source->id,
                     .bytes = source->bytes.at,
                     .size = source->bytes.size,
                     .at = skip,
                     .line = skip};
  if (memchr(r.bytes, '\r', r.size) != NULL)
    return NULL;
  skip_lines(&r);
  if (at_end(&r) || column(&r) > 0)
    return NULL;
  r.scratch = arena_new();
  r.texts = arena_alloc(arena, r.size + 1);
  struct node *root = NULL;
  if (block(&r) && at_end(&r)) {
    root = ARENA_NEW(arena, struct node);
    *root = r.stack[0];
  }
  arena_free(r.scratch);
  return root;
}
