/* Builds the tree out of libyaml's events, of files that text/plain.c leaves to it. Reading order: yaml_read (checks
 * the bytes, runs the parser), build_event (one event), finish (puts a node where it belongs), then the accessors, then
 * node_place.
 *
 * Children wait on one stack until their list or map ends and are then copied to the arena in one piece, so that a node
 * costs one copy and no list. libyaml counts characters, places count bytes: utf8_cursor turns one into the other.
 * Aliases are never followed, so a file cannot grow by them. What libyaml does in quadratic time is kept from it: depth
 * ends at LIMIT_YAML_DEPTH, and directives (compared pairwise with each other) are refused before it sees them. */
#include "text/yaml.h"

#include "base/limits.h"
#include "text/complaint.h"
#include "text/frozen.h"
#include "text/plain.h"
#include "text/utf8.h"

#include <stdint.h>
#include <stdlib.h>
#include <yaml.h>

#define NAME_SHOWN 80 /* bytes of a text in a message */

struct level {
  enum node_kind kind;
  size_t first; /* index of its first child on the stack */
  struct place place;
};

struct builder {
  struct arena *arena, *scratch;
  const struct source *source;
  struct problems *problems;
  struct utf8_cursor cursor;
  size_t skip; /* bytes before the text that libyaml sees: the BOM */
  struct node *stack;
  size_t count, capacity;
  struct level levels[LIMIT_YAML_DEPTH];
  size_t depth;
  size_t nodes;
  bool refused;
  bool over; /* nothing more to read */
};

static struct place place_of(const struct builder *b, size_t from, size_t to)
{
  return (struct place){b->source->id, from, to};
}

static size_t byte_of(struct builder *b, size_t character)
{
  return b->skip + utf8_byte(&b->cursor, character);
}

static struct place event_place(struct builder *b, const yaml_event_t *event)
{
  size_t from = byte_of(b, event->start_mark.index);
  return place_of(b, from, byte_of(b, event->end_mark.index));
}

static void refuse(struct builder *b, struct place place, const char *message, const char *hint)
{
  b->refused = true;
  problems_add(b->problems, place, "%s", message);
  if (hint != NULL)
    problems_hint(b->problems, "%s", hint);
}

/* From `from` to the next blank or end of line: an anchor, alias, tag or directive. */
static struct place word_place(const struct builder *b, size_t from)
{
  struct slice bytes = b->source->bytes;
  size_t to = from;
  while (to < bytes.size && strchr(" \t\r\n,]}", bytes.at[to]) == NULL)
    to++;
  return place_of(b, from, to);
}

static void check_properties(struct builder *b, const yaml_char_t *anchor, const yaml_char_t *tag, size_t from)
{
  if (anchor != NULL)
    refuse(b, word_place(b, from), "an anchor ('&') is not accepted here", "text that starts with '&' needs quotes");
  if (tag != NULL)
    refuse(b, word_place(b, from), "a tag ('!') is not accepted here", "text that starts with '!' needs quotes");
}

static void check_key(struct builder *b, const struct node *key)
{
  if (key->kind != NODE_SCALAR || key->block)
    refuse(b, key->place, "a name must be plain text", NULL);
  else if (key->text.size == 0)
    refuse(b, key->place, "a name is missing before the colon", NULL);
  else if (!key->quoted && slice_is(key->text, "<<"))
    refuse(b, key->place, "a merge key ('<<') is not accepted here", "write out the names that it stands for");
}

/* Puts a finished node with its parent, or on top of an empty stack: the root. */
static void finish(struct builder *b, const struct node *node)
{
  if (b->depth > 0) {
    const struct level *parent = &b->levels[b->depth - 1];
    if (parent->kind == NODE_MAP && (b->count - parent->first) % 2 == 0)
      check_key(b, node);
  }
  b->stack = arena_grow(b->scratch, b->stack, b->count, &b->capacity, sizeof *b->stack);
  b->stack[b->count++] = *node;
}

static bool count_node(struct builder *b, struct place place)
{
  if (++b->nodes <= LIMIT_YAML_NODES)
    return true;
  b->refused = true;
  problems_add(b->problems, place, "the file holds more than %d values", LIMIT_YAML_NODES);
  b->over = true;
  return false;
}

static void build_scalar(struct builder *b, const yaml_event_t *event)
{
  struct node node = {.kind = NODE_SCALAR, .place = event_place(b, event)};
  struct slice text = {(const char *)event->data.scalar.value, event->data.scalar.length};
  yaml_scalar_style_t style = event->data.scalar.style;
  if (!count_node(b, node.place))
    return;
  node.block = style == YAML_LITERAL_SCALAR_STYLE || style == YAML_FOLDED_SCALAR_STYLE;
  node.quoted = style == YAML_SINGLE_QUOTED_SCALAR_STYLE || style == YAML_DOUBLE_QUOTED_SCALAR_STYLE;
  check_properties(b, event->data.scalar.anchor, event->data.scalar.tag, node.place.start);
  if (text.size > LIMIT_YAML_SCALAR) {
    b->refused = true;
    problems_add(b->problems, place_of(b, node.place.start, node.place.start + 1),
                 "this text is %zu bytes long; at most %u are accepted", text.size, LIMIT_YAML_SCALAR);
    text = (struct slice){"", 0};
  }
  const char *bytes = b->source->bytes.at;
  while (node.block && node.place.end > node.place.start + 1 && strchr(" \t\r\n", bytes[node.place.end - 1]) != NULL)
    node.place.end--;
  node.text = arena_slice(b->arena, text);
  finish(b, &node);
}

static void build_alias(struct builder *b, const yaml_event_t *event)
{
  struct node node = {.kind = NODE_SCALAR, .place = event_place(b, event), .text = {"*", 1}};
  if (!count_node(b, node.place))
    return;
  refuse(b, node.place, "an alias ('*') is not accepted here", "text that starts with '*' needs quotes");
  finish(b, &node);
}

static void open_level(struct builder *b, const yaml_event_t *event, enum node_kind kind)
{
  struct place place = event_place(b, event);
  if (!count_node(b, place))
    return;
  if (b->depth == LIMIT_YAML_DEPTH) {
    b->refused = true;
    problems_add(b->problems, place, "more than %d lists and maps within each other", LIMIT_YAML_DEPTH);
    b->over = true;
    return;
  }
  /* Properties come first in the event's span; a sequence and a mapping share the layout of these two fields, but not
   * by contract. */
  if (kind == NODE_LIST)
    check_properties(b, event->data.sequence_start.anchor, event->data.sequence_start.tag, place.start);
  else
    check_properties(b, event->data.mapping_start.anchor, event->data.mapping_start.tag, place.start);
  b->levels[b->depth++] = (struct level){kind, b->count, place};
}

struct key_rank {
  struct slice text;
  size_t index;
};

static int rank_compare(const void *a, const void *b)
{
  const struct key_rank *x = a, *y = b;
  int order = slice_compare(x->text, y->text);
  return order != 0 ? order : (x->index > y->index) - (x->index < y->index);
}

static void add_duplicate(struct builder *b, const struct node *map, size_t first, size_t again)
{
  const struct node *key = &map->pairs[again].key;
  struct slice shown = utf8_cut(key->text, NAME_SHOWN);
  b->refused = true;
  problems_add(b->problems, key->place, "'%.*s' is here a second time", SLICE_ARG(shown));
  if (b->problems->dropped == 0)
    problems_hint(b->problems, "the first one is in line %zu",
                  complaint_line(b->source->bytes, map->pairs[first].key.place.start));
}

/* By sorting: pairwise comparison of a hostile file's million names would take hours. */
static void check_duplicates(struct builder *b, const struct node *map)
{
  if (map->count < 2)
    return;
  struct key_rank *ranks = malloc(map->count * sizeof *ranks);
  if (ranks == NULL) {
    refuse(b, map->place, "out of memory", NULL);
    return;
  }
  for (size_t i = 0; i < map->count; i++)
    ranks[i] = (struct key_rank){map->pairs[i].key.text, i};
  qsort(ranks, map->count, sizeof *ranks, rank_compare);
  for (size_t i = 1, first = 0; i < map->count; i++) {
    if (slice_equal(ranks[i].text, ranks[first].text))
      add_duplicate(b, map, ranks[first].index, ranks[i].index);
    else
      first = i;
  }
  free(ranks);
}

/* Children of the level that ends, copied to where they stay. */
static void take_children(struct builder *b, struct node *node, const struct node *children, size_t held)
{
  node->place.start = children[0].place.start;
  node->place.end = children[held - 1].place.end;
  if (node->kind == NODE_LIST) {
    node->count = held;
    node->items = ARENA_ARRAY(b->arena, held, struct node);
    for (size_t i = 0; i < held; i++)
      node->items[i] = children[i];
    return;
  }
  node->count = held / 2;
  node->pairs = ARENA_ARRAY(b->arena, node->count, struct node_pair);
  for (size_t i = 0; i < node->count; i++)
    node->pairs[i] = (struct node_pair){children[2 * i], children[2 * i + 1]};
  check_duplicates(b, node);
}

static void close_level(struct builder *b, const yaml_event_t *event)
{
  const struct level level = b->levels[--b->depth];
  size_t held = b->count - level.first;
  struct node node = {.kind = level.kind, .place = level.place};
  node.place.end = event_place(b, event).end;
  if (held > 0)
    take_children(b, &node, b->stack + level.first, held);
  b->count = level.first;
  finish(b, &node);
}

/* After the end of the document: nothing, or a refusal that is better placed than libyaml's. */
static void check_rest(struct builder *b, size_t at)
{
  struct slice bytes = b->source->bytes;
  bool after_blank = true;
  while (at < bytes.size) {
    struct slice rest = slice_part(bytes, at, bytes.size);
    if (strchr(" \t\r\n", rest.at[0]) != NULL) {
      at++;
      after_blank = true;
    } else if (rest.at[0] == '#' && after_blank) {
      while (at < bytes.size && bytes.at[at] != '\n' && bytes.at[at] != '\r')
        at++;
    } else if (rest.size >= 3 && memcmp(rest.at, "...", 3) == 0) {
      at += 3;
      after_blank = false;
    } else if (rest.size >= 3 && memcmp(rest.at, "---", 3) == 0) {
      refuse(b, place_of(b, at, at + 3), "a second document starts here; a file holds one", NULL);
      return;
    } else {
      bool map = b->count > 0 && b->stack[0].kind == NODE_MAP;
      refuse(b, word_place(b, at), "this stands outside of what the file holds",
             map ? "names on the same level start in the same column as the first one" : NULL);
      return;
    }
  }
}

static void build_event(struct builder *b, const yaml_event_t *event)
{
  switch (event->type) {
  case YAML_SCALAR_EVENT:
    build_scalar(b, event);
    break;
  case YAML_ALIAS_EVENT:
    build_alias(b, event);
    break;
  case YAML_SEQUENCE_START_EVENT:
    open_level(b, event, NODE_LIST);
    break;
  case YAML_MAPPING_START_EVENT:
    open_level(b, event, NODE_MAP);
    break;
  case YAML_SEQUENCE_END_EVENT:
  case YAML_MAPPING_END_EVENT:
    close_level(b, event);
    break;
  case YAML_DOCUMENT_END_EVENT:
    check_rest(b, event_place(b, event).end);
    b->over = true;
    break;
  case YAML_STREAM_END_EVENT:
    b->over = true;
    break;
  case YAML_NO_EVENT:
  case YAML_STREAM_START_EVENT:
  case YAML_DOCUMENT_START_EVENT:
    break;
  }
}

static bool check_bytes(struct builder *b)
{
  struct utf8_check check = utf8_check(b->source->bytes);
  struct place place = place_of(b, check.at, check.at + check.size);
  b->skip = check.skip;
  b->cursor.ascii = check.ascii;
  b->cursor.bytes = slice_part(b->source->bytes, check.skip, b->source->bytes.size);
  switch (check.fault) {
  case UTF8_SOUND:
    return true;
  case UTF8_BROKEN:
    refuse(b, place, "this byte is not valid UTF-8", "save the file as UTF-8");
    break;
  case UTF8_NUL:
    refuse(b, place, "a NUL byte: this is not a text file, or not saved as UTF-8", "save the file as UTF-8 text");
    break;
  case UTF8_CONTROL:
    refuse(b, place, "a control character is not accepted here", NULL);
    break;
  case UTF8_SEPARATOR:
    refuse(b, place, "a Unicode line separator is not accepted here", "use a plain line end");
    break;
  case UTF8_UTF16:
    refuse(b, place, "the file is UTF-16", "save the file as UTF-8");
    break;
  }
  return false;
}

static bool check_directives(struct builder *b)
{
  struct slice bytes = b->source->bytes;
  for (size_t at = b->skip; at < bytes.size; at++) {
    if (bytes.at[at] == '%' && (at == b->skip || bytes.at[at - 1] == '\n' || bytes.at[at - 1] == '\r')) {
      refuse(b, word_place(b, at), "a directive ('%') is not accepted here", "leave this line out");
      return false;
    }
    if (bytes.at[at] == '#') {
      while (at < bytes.size && bytes.at[at] != '\n' && bytes.at[at] != '\r')
        at++;
    } else if (strchr(" \t\r\n", bytes.at[at]) == NULL) {
      return true;
    }
  }
  return true;
}

static void add_syntax(struct builder *b, const yaml_parser_t *parser)
{
  b->refused = true;
  struct complaint complaint = {.problem = parser->problem, .context = parser->context, .from = SIZE_MAX};
  if (parser->error == YAML_MEMORY_ERROR)
    complaint.problem = "out of memory";
  complaint.at = byte_of(b, parser->problem_mark.index);
  if (parser->context != NULL)
    complaint.from = byte_of(b, parser->context_mark.index);
  complaint_add(&complaint, b->source, b->problems);
}

static void run(struct builder *b)
{
  yaml_parser_t parser;
  if (!yaml_parser_initialize(&parser)) {
    refuse(b, PLACE_NONE, "out of memory", NULL);
    return;
  }
  yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
  yaml_parser_set_input_string(&parser, (const unsigned char *)b->cursor.bytes.at, b->cursor.bytes.size);
  while (!b->over) {
    yaml_event_t event;
    if (!yaml_parser_parse(&parser, &event)) {
      add_syntax(b, &parser);
      break;
    }
    build_event(b, &event);
    yaml_event_delete(&event);
  }
  yaml_parser_delete(&parser);
}

static bool holds_nothing(const struct builder *b)
{
  return b->count == 0 || (b->stack[0].kind == NODE_SCALAR && b->stack[0].text.size == 0 && !b->stack[0].quoted);
}

const struct node *yaml_read(struct arena *arena, const struct source *source, struct problems *problems)
{
  if (source->frozen)
    return frozen_read(arena, source);
  struct builder b = {.arena = arena, .source = source, .problems = problems};
  if (!check_bytes(&b) || !check_directives(&b))
    return NULL;
  const struct node *plain = plain_read(arena, source, b.skip);
  if (plain != NULL)
    return plain;
  b.scratch = arena_new();
  run(&b);
  if (!b.refused && holds_nothing(&b))
    refuse(&b, place_of(&b, 0, 0), "the file holds nothing", NULL);
  struct node *root = NULL;
  if (!b.refused) {
    root = ARENA_NEW(arena, struct node);
    *root = b.stack[0];
  }
  arena_free(b.scratch);
  return root;
}

static const struct node_pair *pair_find(const struct node *map, const char *key)
{
  if (map == NULL || map->kind != NODE_MAP)
    return NULL;
  struct slice wanted = slice_of(key);
  for (size_t i = 0; i < map->count; i++) {
    if (slice_equal(map->pairs[i].key.text, wanted))
      return &map->pairs[i];
  }
  return NULL;
}

const struct node *node_get(const struct node *map, const char *key)
{
  const struct node_pair *pair = pair_find(map, key);
  return pair == NULL ? NULL : &pair->value;
}

const struct node *node_key(const struct node *map, const char *key)
{
  const struct node_pair *pair = pair_find(map, key);
  return pair == NULL ? NULL : &pair->key;
}

const char *node_kind_name(const struct node *node)
{
  static const char *const names[] = {"a text", "a list", "a map"};
  return names[node->kind];
}
