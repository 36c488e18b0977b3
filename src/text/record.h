/* Exports flattened to records, whatever their shape: rules/ADAPTERS.md section 1. Included by read/. The readers of
 * shapes are text/lines.c, text/sheet.c, text/xml.c (the only user of expat), text/tree.c (JSON and YAML, through
 * text/json.h and text/yaml.h). Records live in the caller's arena, some of their texts in the source's bytes;
 * immutable once read. */
#ifndef KEYWAY_TEXT_RECORD_H
#define KEYWAY_TEXT_RECORD_H

#include "base/problem.h"
#include "base/source.h"
#include "text/pattern.h"

struct record_line { /* one record; "record" alone is a reading of the job sheet */
  struct slice path;
  struct slice text;  /* trimmed, decoded, never empty */
  struct place place; /* of the text, within the source's (decoded) bytes */
};

struct record_list {
  size_t count;
  const struct record_line *items;
};

enum record_shape { SHAPE_LINES, SHAPE_TABLE, SHAPE_XML, SHAPE_JSON, SHAPE_YAML, SHAPE_COUNT };
enum record_encoding { ENCODING_AUTO, ENCODING_UTF8, ENCODING_UTF16, ENCODING_LATIN1, ENCODING_COUNT };

struct record_style {
  enum record_shape shape;
  enum record_encoding encoding;
  size_t comment_count;
  const struct slice *comments;  /* lines, table */
  const struct pattern *section; /* lines; NULL: no sections */
  struct slice separator;        /* lines; " ": a run of blanks */
  char delimiter;                /* table; ' ': a run of blanks; 0: fixed widths */
  size_t width_count;
  const size_t *widths; /* characters */
  size_t key_count;
  const struct slice *keys; /* xml, json, yaml */
};

const char *shape_name(enum record_shape shape);
bool shape_find(struct slice name, enum record_shape *out);

/* The usual style of a shape: comments "#" and ";", sections "[...]" (a pattern that needs no freeing), separator "=",
 * delimiter ",", keys name, id, key. */
struct record_style record_style_usual(struct arena *arena, enum record_shape shape);

/* Guesses shape, delimiter and separator from decoded bytes alone (for `draft`, and for `reads:` left out). */
struct record_style record_style_guess(struct arena *arena, const struct source *source);

/* Turns UTF-16 or Latin-1 into UTF-8, drops a BOM (which says more than `encoding` does) and turns lone CRs into LF:
 * the source's bytes are replaced, so that places, lines and columns are those of the text that a person sees. Latin-1
 * is read as windows-1252. false when the bytes are not in that encoding, or hold NUL (problem added). */
bool record_decode(struct arena *arena, struct source *source, enum record_encoding encoding,
                   struct problems *problems);

/* All records in file order. false when refused (problems added with places): malformed, or over base/limits.h. CR, LF
 * and CRLF end lines. */
bool record_read(struct arena *arena, const struct source *source, const struct record_style *style,
                 struct problems *problems, struct record_list *out);

#endif
