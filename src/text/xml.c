/* XML 1.0 through expat. Reading order: xml_read (what is looked at before expat sees the file), then the handlers in
 * the order of a file: start_doctype, start_element, add_text, end_element.
 *
 * The whole file goes to expat in one piece: its parser takes quadratic time for a long token that comes in parts.
 * Nothing is ever expanded or opened: a document type with declarations or an external one is refused before they are
 * read, so no entity but the five of XML itself exists, and no attribute has a default. */
#include "base/limits.h"
#include "text/flat.h"

#include <expat.h>

/* expat collects a tag's attributes before it says a word; the largest tag in the trade has 40. */
#define ATTRIBUTES_MOST 10000

struct span {
  size_t from, to;
};

struct level {
  uint32_t step;
  size_t text_from;   /* in the buffer */
  bool gap;           /* another element stood since the last text */
  struct span place;  /* of the text, first to last byte that is no blank */
  size_t before;      /* records before this element */
  struct slice key;   /* the attribute that is in the step: a record only when there is no other */
  struct slice value; /* its text */
  struct span key_place;
};

struct xml {
  struct flat *flat;
  struct slice bytes;
  XML_Parser parser;
  struct level levels[LIMIT_RECORD_DEPTH];
  size_t depth;
  char *buffer; /* texts of the open elements, the innermost last */
  size_t size, capacity;
  bool stopped;
};

static void stop(struct xml *xml)
{
  xml->stopped = true;
  XML_StopParser(xml->parser, XML_FALSE);
}

static size_t here(const struct xml *xml)
{
  XML_Index index = XML_GetCurrentByteIndex(xml->parser);
  return index < 0 ? xml->bytes.size : (size_t)index;
}

static struct place place_of(const struct xml *xml, struct span span)
{
  return flat_place(xml->flat, span.from, span.to);
}

/* ---- attributes: expat gives their texts, the tag's bytes say where these stand */

static size_t skip_blanks(struct slice tag, size_t at)
{
  while (at < tag.size && flat_is_blank(tag.at[at]))
    at++;
  return at;
}

/* The next value at or after `*at` of a tag that expat found well-formed; *at goes behind it. Offsets within the file,
 * blanks at its ends left out. */
static struct span next_value(const struct xml *xml, struct slice tag, size_t *at)
{
  size_t from = *at;
  while (from < tag.size && tag.at[from] != '"' && tag.at[from] != '\'')
    from++;
  char quote = from < tag.size ? tag.at[from] : '"';
  from = from < tag.size ? from + 1 : from;
  const char *end = memchr(tag.at + from, quote, tag.size - from);
  size_t to = end == NULL ? tag.size : (size_t)(end - tag.at);
  *at = to < tag.size ? to + 1 : to;
  from = skip_blanks(slice_part(tag, 0, to), from);
  while (to > from && flat_is_blank(tag.at[to - 1]))
    to--;
  size_t base = (size_t)(tag.at - xml->bytes.at);
  return (struct span){base + from, base + to};
}

static struct slice tag_here(const struct xml *xml)
{
  size_t from = here(xml), size = (size_t)XML_GetCurrentByteCount(xml->parser);
  from = from < xml->bytes.size ? from : xml->bytes.size;
  size = size < xml->bytes.size - from ? size : xml->bytes.size - from;
  return slice_part(xml->bytes, from, from + size);
}

/* Index of the attribute that goes into the step, SIZE_MAX for none: the first of the style's keys counts. */
static size_t key_attribute(const struct record_style *style, const char **attributes)
{
  for (size_t k = 0; k < style->key_count; k++) {
    for (size_t i = 0; attributes[i] != NULL; i += 2) {
      if (slice_is(style->keys[k], attributes[i]) && flat_trim(slice_of(attributes[i + 1])).size > 0)
        return i;
    }
  }
  return SIZE_MAX;
}

static struct slice attribute_tail(struct xml *xml, const char *name)
{
  return slice_of(arena_print(xml->flat->scratch, "@%s", name));
}

static bool add_attributes(struct xml *xml, struct level *level, const char **attributes, size_t key)
{
  struct slice tag = tag_here(xml);
  size_t at = 0;
  for (size_t i = 0; attributes[i] != NULL; i += 2) {
    struct span span = next_value(xml, tag, &at);
    struct slice text = flat_trim(slice_of(attributes[i + 1]));
    if (text.size == 0)
      continue;
    text = arena_slice(xml->flat->arena, text);
    struct slice tail = attribute_tail(xml, attributes[i]);
    if (i == key) {
      level->key = tail;
      level->value = text;
      level->key_place = span;
    } else if (!flat_record(xml->flat, level->step, tail, text, place_of(xml, span))) {
      return false;
    }
  }
  return true;
}

/* ---- elements */

static void trim_buffer(struct xml *xml, const struct level *level)
{
  while (xml->size > level->text_from && flat_is_blank(xml->buffer[xml->size - 1]))
    xml->size--;
}

static void XMLCALL start_element(void *data, const char *name, const char **attributes)
{
  struct xml *xml = data;
  if (xml->stopped)
    return;
  struct slice tag = tag_here(xml);
  struct span start = {here(xml), here(xml) + (tag.size > 0 ? 1 : 0)};
  if (xml->depth == LIMIT_RECORD_DEPTH) {
    problems_add(xml->flat->problems, place_of(xml, start), "elements are nested too deeply here; at most %d levels",
                 LIMIT_RECORD_DEPTH);
    stop(xml);
    return;
  }
  struct level *parent = xml->depth > 0 ? &xml->levels[xml->depth - 1] : NULL;
  if (parent != NULL) {
    trim_buffer(xml, parent);
    parent->gap = true;
  }
  size_t key = key_attribute(xml->flat->style, attributes);
  const char *step = name;
  if (key != SIZE_MAX)
    step = arena_print(xml->flat->scratch, "%s:%.*s", name, SLICE_ARG(flat_trim(slice_of(attributes[key + 1]))));
  else
    step = arena_text(xml->flat->scratch, slice_of(name));
  struct level *level = &xml->levels[xml->depth];
  *level = (struct level){.text_from = xml->size, .before = xml->flat->record_count};
  level->step = flat_step(xml->flat, parent == NULL ? 0 : parent->step, slice_of(step), place_of(xml, start));
  xml->depth++;
  if (level->step == 0 || !add_attributes(xml, level, attributes, key))
    stop(xml);
}

static void append(struct xml *xml, struct slice text)
{
  if (xml->capacity - xml->size < text.size) {
    size_t wanted = (xml->size + text.size) * 2 + 256;
    char *moved = arena_alloc(xml->flat->scratch, wanted);
    if (xml->size > 0)
      memcpy(moved, xml->buffer, xml->size);
    xml->buffer = moved;
    xml->capacity = wanted;
  }
  memcpy(xml->buffer + xml->size, text.at, text.size);
  xml->size += text.size;
}

/* The bytes of the file that a piece of text comes from: the same ones, or a reference or line end as a whole. */
static struct span piece_place(const struct xml *xml, struct slice piece)
{
  size_t from = here(xml), size = (size_t)XML_GetCurrentByteCount(xml->parser);
  if (size != piece.size)
    return (struct span){from, from + size};
  size_t first = 0, last = size;
  while (first < size && flat_is_blank(piece.at[first]))
    first++;
  while (last > first && flat_is_blank(piece.at[last - 1]))
    last--;
  return (struct span){from + first, from + last};
}

static void XMLCALL add_text(void *data, const char *text, int size)
{
  struct xml *xml = data;
  if (xml->stopped || xml->depth == 0)
    return;
  struct level *level = &xml->levels[xml->depth - 1];
  struct slice piece = {text, (size_t)size};
  bool blank = flat_trim(piece).size == 0, empty = xml->size == level->text_from;
  if (blank && (empty || level->gap))
    return;
  if (!blank) {
    struct span span = piece_place(xml, piece);
    if (empty)
      level->place = span;
    level->place.to = span.to;
  }
  if (empty || level->gap) {
    while (flat_is_blank(piece.at[0]))
      piece = slice_part(piece, 1, piece.size);
  }
  if (level->gap && !empty)
    append(xml, (struct slice){" ", 1});
  level->gap = false;
  append(xml, piece);
  /* Twice, for what is still to be trimmed. */
  if (xml->size - level->text_from > 2 * LIMIT_RECORD_BYTES) {
    problems_add(xml->flat->problems, place_of(xml, (struct span){level->place.from, level->place.from + 1}),
                 "this text is over %u bytes long", LIMIT_RECORD_BYTES);
    stop(xml);
  }
}

static void XMLCALL end_element(void *data, const char *name)
{
  struct xml *xml = data;
  (void)name;
  if (xml->stopped || xml->depth == 0)
    return;
  struct level *level = &xml->levels[--xml->depth];
  struct flat *flat = xml->flat;
  trim_buffer(xml, level);
  struct slice text = {"", 0};
  if (xml->size > level->text_from)
    text = arena_slice(flat->arena, (struct slice){xml->buffer + level->text_from, xml->size - level->text_from});
  xml->size = level->text_from;
  bool taken = flat_record(flat, level->step, (struct slice){"", 0}, text, place_of(xml, level->place));
  if (taken && flat->record_count == level->before)
    taken = flat_record(flat, level->step, level->key, level->value, place_of(xml, level->key_place));
  if (!taken)
    stop(xml);
}

/* ---- what is refused */

/* Where `word` stands before byte `to`, the last time. */
static size_t find_back(struct slice bytes, size_t to, struct slice word)
{
  for (size_t at = to < bytes.size ? to : bytes.size; at-- > 0;) {
    if (bytes.size - at >= word.size && memcmp(bytes.at + at, word.at, word.size) == 0)
      return at;
  }
  return 0;
}

static void XMLCALL start_doctype(void *data, const char *name, const char *system, const char *public, int internal)
{
  struct xml *xml = data;
  (void)name;
  if (xml->stopped || (system == NULL && public == NULL && internal == 0))
    return;
  struct slice word = slice_of("<!DOCTYPE");
  size_t from = find_back(xml->bytes, here(xml) + 1, word);
  struct place place = flat_place(xml->flat, from, from + word.size);
  if (internal != 0)
    problems_add(xml->flat->problems, place, "a document type with declarations of its own is not accepted");
  else
    problems_add(xml->flat->problems, place, "a document type that is defined elsewhere is not accepted");
  problems_hint(xml->flat->problems, "entities and attributes that it defines are never looked up; export without it");
  stop(xml);
}

static void add_complaint(struct xml *xml)
{
  enum XML_Error error = XML_GetErrorCode(xml->parser);
  struct problems *problems = xml->flat->problems;
  size_t at = here(xml);
  at = at < xml->bytes.size ? at : xml->bytes.size;
  struct place place = flat_place(xml->flat, at, at < xml->bytes.size ? at + 1 : at);
  switch (error) {
  case XML_ERROR_NO_ELEMENTS:
    problems_add(problems, place,
                 xml->depth > 0 ? "the file ends before all elements are closed" : "the file holds no XML element");
    break;
  case XML_ERROR_TAG_MISMATCH:
    problems_add(problems, place, "this closes another element than the one that is open");
    break;
  case XML_ERROR_UNDEFINED_ENTITY:
    problems_add(problems, place, "an entity that nothing defines");
    problems_hint(problems, "a plain '&' is written '&amp;'");
    break;
  case XML_ERROR_INVALID_TOKEN:
    problems_add(problems, place, "this character cannot stand here in XML");
    problems_hint(problems, "a plain '&' is written '&amp;', a plain '<' is written '&lt;'");
    break;
  case XML_ERROR_DUPLICATE_ATTRIBUTE:
    problems_add(problems, place, "an attribute is here a second time");
    break;
  case XML_ERROR_MISPLACED_XML_PI:
    problems_add(problems, place, "'<?xml' must be the very first of the file");
    break;
  case XML_ERROR_UNCLOSED_TOKEN:
    problems_add(problems, place, "what starts here is never closed");
    break;
  default:
    problems_add(problems, place, "this is not XML: %s", XML_ErrorString(error));
    break;
  }
}

/* Past a comment, CDATA section or processing instruction that starts at `at`; `at` when there is none. */
static size_t skip_section(struct slice bytes, size_t at)
{
  static const char *const sections[][2] = {{"<!--", "-->"}, {"<![CDATA[", "]]>"}, {"<?", "?>"}};
  for (size_t i = 0; i < sizeof sections / sizeof *sections; i++) {
    struct slice start = slice_of(sections[i][0]), end = slice_of(sections[i][1]);
    if (bytes.size - at < start.size || memcmp(bytes.at + at, start.at, start.size) != 0)
      continue;
    for (at += start.size; at < bytes.size; at++) {
      if (bytes.size - at >= end.size && memcmp(bytes.at + at, end.at, end.size) == 0)
        return at + end.size;
    }
  }
  return at;
}

/* A tag with millions of attributes would fill the memory before the first handler is called. Between two '<' there
 * stand a tag and a text; each attribute has two quotes. */
static bool check_tags(const struct flat *flat, struct slice bytes)
{
  size_t start = 0, quotes = 0;
  for (size_t at = 0; at < bytes.size; at++) {
    char c = bytes.at[at];
    if (c == '<') {
      start = skip_section(bytes, at);
      quotes = 0;
      at = start > at ? start - 1 : at;
    } else if (c == '"' || c == '\'') {
      quotes++;
    }
    if (quotes > 2 * ATTRIBUTES_MOST && at - start > LIMIT_RECORD_BYTES)
      return problems_add(flat->problems, flat_place(flat, start, start + 1),
                          "an element with over %d attributes, or a text of over %u bytes", ATTRIBUTES_MOST,
                          LIMIT_RECORD_BYTES);
  }
  return true;
}

bool xml_read(struct flat *flat)
{
  struct xml xml = {.flat = flat, .bytes = flat->source->bytes};
  if (!check_tags(flat, xml.bytes))
    return false;
  /* The bytes are UTF-8 by now, whatever the file says of itself. */
  xml.parser = XML_ParserCreate("UTF-8");
  if (xml.parser == NULL)
    return problems_add(flat->problems, flat_place(flat, 0, 0), "out of memory");
  XML_SetUserData(xml.parser, &xml);
  XML_SetElementHandler(xml.parser, start_element, end_element);
  XML_SetCharacterDataHandler(xml.parser, add_text);
  XML_SetStartDoctypeDeclHandler(xml.parser, start_doctype);
  enum XML_Status status = XML_Parse(xml.parser, xml.bytes.at, (int)xml.bytes.size, XML_TRUE);
  if (status != XML_STATUS_OK && !xml.stopped)
    add_complaint(&xml);
  XML_ParserFree(xml.parser);
  return status == XML_STATUS_OK && !xml.stopped;
}
