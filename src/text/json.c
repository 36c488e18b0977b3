/* A small reader of its own, because YAML is not quite a superset of JSON: libyaml refuses surrogate pairs, long names,
 * tabs before the first bracket and line separators in texts. Reading order: json_read, read_value, read_children, then
 * texts and their escapes. Children wait on one stack until their bracket closes. */
#include "text/json.h"

#include "base/limits.h"
#include "text/complaint.h"
#include "text/flat.h"
#include "text/utf8.h"

struct json {
  struct arena *arena, *scratch;
  const struct source *source;
  struct problems *problems;
  struct slice bytes;
  size_t at;
  size_t depth;
  size_t nodes;
  struct node *stack;
  size_t count, capacity;
};

static bool read_value(struct json *json, struct node *out);

static struct place place_of(const struct json *json, size_t from, size_t to)
{
  to = to < json->bytes.size ? to : json->bytes.size;
  return (struct place){json->source->id, from, to > from ? to : from};
}

/* At the character that stands here. */
static bool refuse(const struct json *json, const char *message)
{
  uint32_t code = 0;
  struct slice rest = slice_part(json->bytes, json->at, json->bytes.size);
  size_t size = utf8_read(rest, &code);
  return problems_add(json->problems, place_of(json, json->at, json->at + (size > 0 ? size : 1)), "%s", message);
}

static char peek(const struct json *json)
{
  return json->at < json->bytes.size ? json->bytes.at[json->at] : '\0';
}

static char next_sign(struct json *json)
{
  for (char c = peek(json); c == ' ' || c == '\t' || c == '\r' || c == '\n'; c = peek(json))
    json->at++;
  return peek(json);
}

/* ---- texts */

/* Four hexadecimal digits at `at`; false when they are not. */
static bool read_hex(struct slice raw, size_t at, uint32_t *out)
{
  if (at + 4 > raw.size)
    return false;
  *out = 0;
  for (size_t i = at; i < at + 4; i++) {
    char c = raw.at[i], low = (char)(c | 0x20);
    if (c >= '0' && c <= '9')
      *out = *out * 16 + (uint32_t)(c - '0');
    else if (low >= 'a' && low <= 'f')
      *out = *out * 16 + (uint32_t)(low - 'a' + 10);
    else
      return false;
  }
  return true;
}

/* The code after "\u", and of a pair both; bytes used, 0 when refused. */
static size_t read_unicode(struct slice raw, size_t at, uint32_t *out)
{
  uint32_t low = 0;
  if (!read_hex(raw, at + 2, out) || *out == 0 || (*out >= 0xDC00 && *out <= 0xDFFF))
    return 0;
  if (*out < 0xD800 || *out > 0xDBFF)
    return 6;
  if (at + 8 > raw.size || raw.at[at + 6] != '\\' || raw.at[at + 7] != 'u' || !read_hex(raw, at + 8, &low) ||
      low < 0xDC00 || low > 0xDFFF)
    return 0;
  *out = 0x10000 + ((*out - 0xD800) << 10) + (low - 0xDC00);
  return 12;
}

static size_t read_escape(struct slice raw, size_t at, uint32_t *out)
{
  static const char names[] = "\"\\/bfnrt", values[] = "\"\\/\b\f\n\r\t";
  if (at + 1 >= raw.size)
    return 0;
  if (raw.at[at + 1] == 'u')
    return read_unicode(raw, at, out);
  const char *found = raw.at[at + 1] == '\0' ? NULL : strchr(names, raw.at[at + 1]);
  if (found == NULL)
    return 0;
  *out = (unsigned char)values[found - names];
  return 2;
}

static bool unescape(struct json *json, struct slice raw, struct slice *out)
{
  /* No escape is shorter than the character that it stands for. */
  char *text = arena_alloc(json->arena, raw.size);
  size_t size = 0;
  for (size_t at = 0; at < raw.size;) {
    if (raw.at[at] != '\\') {
      text[size++] = raw.at[at++];
      continue;
    }
    uint32_t code = 0;
    size_t used = read_escape(raw, at, &code);
    if (used == 0) {
      json->at = (size_t)(raw.at - json->bytes.at) + at;
      return refuse(json, "a backslash here starts an escape that does not exist, or names no character");
    }
    size += utf8_write(text + size, code);
    at += used;
  }
  *out = (struct slice){text, size};
  return true;
}

static bool read_text(struct json *json, struct node *out)
{
  size_t quote = json->at, at = quote + 1;
  bool escaped = false;
  while (at < json->bytes.size && json->bytes.at[at] != '"' && json->bytes.at[at] != '\n' &&
         json->bytes.at[at] != '\r') {
    bool backslash = json->bytes.at[at] == '\\';
    escaped = escaped || backslash;
    at += backslash ? 2 : 1;
  }
  if (at >= json->bytes.size || json->bytes.at[at] != '"')
    return refuse(json, "this quote is not closed on its line");
  struct slice raw = slice_part(json->bytes, quote + 1, at);
  out->quoted = true;
  out->text = raw;
  if (escaped && !unescape(json, raw, &out->text))
    return false;
  struct slice inner = flat_trim(raw);
  size_t from = inner.size == 0 ? quote + 1 : (size_t)(inner.at - json->bytes.at);
  out->place = place_of(json, from, from + inner.size);
  json->at = at + 1;
  return true;
}

static bool is_word(char c)
{
  return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '+' || c == '-' ||
         c == '.' || c == '_';
}

static bool read_word(struct json *json, struct node *out)
{
  size_t from = json->at;
  while (is_word(peek(json)))
    json->at++;
  if (json->at == from)
    return refuse(json, json->at == json->bytes.size ? "a value is missing at the end of the file"
                                                     : "a value is expected here");
  out->text = slice_part(json->bytes, from, json->at);
  out->place = place_of(json, from, json->at);
  return true;
}

/* ---- lists and maps */

static void push(struct json *json, const struct node *node)
{
  json->stack = arena_grow(json->scratch, json->stack, json->count, &json->capacity, sizeof *json->stack);
  json->stack[json->count++] = *node;
}

static bool read_name(struct json *json)
{
  struct node name = {.kind = NODE_SCALAR};
  if (peek(json) != '"')
    return refuse(json, "a name in double quotes is expected here");
  if (!read_text(json, &name))
    return false;
  if (next_sign(json) != ':')
    return refuse(json, "a colon is expected after the name");
  json->at++;
  push(json, &name);
  return true;
}

static void take_children(struct json *json, struct node *out, size_t first)
{
  size_t held = json->count - first;
  if (held == 0)
    return;
  const struct node *children = json->stack + first;
  json->count = first;
  if (out->kind == NODE_LIST) {
    out->count = held;
    out->items = ARENA_ARRAY(json->scratch, held, struct node);
    memcpy(out->items, children, held * sizeof *children);
    return;
  }
  out->count = held / 2;
  out->pairs = ARENA_ARRAY(json->scratch, out->count, struct node_pair);
  for (size_t i = 0; i < out->count; i++)
    out->pairs[i] = (struct node_pair){children[2 * i], children[2 * i + 1]};
}

static bool refuse_unclosed(struct json *json, size_t open, char closing)
{
  refuse(json, closing == '}' ? "a comma or the closing '}' is missing here"
                              : "a comma or the closing ']' of the list is missing here");
  problems_hint(json->problems, "the '%c' that is open here is in line %zu", json->bytes.at[open],
                complaint_line(json->bytes, open));
  return false;
}

static bool read_children(struct json *json, struct node *out)
{
  size_t open = json->at++, first = json->count;
  char closing = out->kind == NODE_MAP ? '}' : ']';
  while (next_sign(json) != closing) {
    struct node child;
    if ((out->kind == NODE_MAP && !read_name(json)) || !read_value(json, &child))
      return false;
    push(json, &child);
    char sign = next_sign(json);
    if (sign != ',' && sign != closing)
      return refuse_unclosed(json, open, closing);
    json->at += sign == ',' ? 1 : 0;
  }
  json->at++;
  out->place = place_of(json, open, open + 1);
  take_children(json, out, first);
  return true;
}

/* Recursion ends at LIMIT_YAML_DEPTH. */
static bool read_value(struct json *json, struct node *out)
{
  char sign = next_sign(json);
  *out = (struct node){.kind = sign == '{' ? NODE_MAP : sign == '[' ? NODE_LIST : NODE_SCALAR};
  if (++json->nodes > LIMIT_YAML_NODES)
    return refuse(json, "the file holds too many values");
  if (out->kind == NODE_SCALAR)
    return sign == '"' ? read_text(json, out) : read_word(json, out);
  if (json->depth == LIMIT_YAML_DEPTH)
    return refuse(json, "lists and objects are nested too deeply here");
  json->depth++;
  bool read = read_children(json, out);
  json->depth--;
  return read;
}

const struct node *json_read(struct arena *arena, struct arena *scratch, const struct source *source,
                             struct problems *problems)
{
  struct json json = {
      .arena = arena, .scratch = scratch, .source = source, .problems = problems, .bytes = source->bytes};
  struct node *root = ARENA_NEW(scratch, struct node);
  if (next_sign(&json) == '\0' && json.at == json.bytes.size) {
    refuse(&json, "the file holds nothing");
    return NULL;
  }
  if (!read_value(&json, root))
    return NULL;
  next_sign(&json);
  if (json.at < json.bytes.size) {
    refuse(&json, "this stands after the end of the only value that a file holds");
    return NULL;
  }
  return root;
}
