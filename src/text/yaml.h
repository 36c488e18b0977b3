/* YAML as a tree of nodes with positions, no meaning. May be included by read/, rules/, cli/ and model/'s reader of the
 * vocabulary (read/vocabulary.h). The only user of libyaml is text/yaml.c.
 *
 * Refused, each with its place: invalid UTF-8, NUL bytes and other control characters, UTF-16, directives, anchors and
 * aliases, tags, merge keys, several documents, keys that are not one plain or quoted text, duplicate keys, and
 * everything over base/limits.h. The tree lives in the caller's arena; immutable after reading. */
#ifndef KEYWAY_TEXT_YAML_H
#define KEYWAY_TEXT_YAML_H

#include "base/arena.h"
#include "base/problem.h"
#include "base/source.h"

enum node_kind { NODE_SCALAR, NODE_LIST, NODE_MAP };

struct node_pair;

struct node {
  enum node_kind kind;
  struct place place; /* scalar: its text with quotes; list and map: from first to last item */
  bool quoted;        /* 'single' or "double", so never null, number or switch by accident */
  bool block;         /* | or > */
  struct slice text;  /* scalar: decoded UTF-8 */
  size_t count;       /* list: items; map: pairs */
  struct node *items;
  struct node_pair *pairs;
};

struct node_pair {
  struct node key; /* a scalar */
  struct node value;
};

/* The root of the only document; NULL when there is none or anything was refused (problems added; syntax: the first
 * one, everything else: all). An empty or comment-only file is a problem ("holds nothing"). */
const struct node *yaml_read(struct arena *arena, const struct source *source, struct problems *problems);

/* The value of a key, NULL when absent or `map` is not a map (also when map is NULL). */
const struct node *node_get(const struct node *map, const char *key);
/* The key's own node (for its place), NULL likewise. */
const struct node *node_key(const struct node *map, const char *key);

/* Place of bytes [from, to) of a scalar's decoded text within the file; exact for plain, quoted and literal block
 * scalars. `source` is the one it came from. */
struct place node_place(const struct source *source, const struct node *scalar, size_t from, size_t to);

/* "a text", "a list", "a map" for messages. */
const char *node_kind_name(const struct node *node);

#endif
