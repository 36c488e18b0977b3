/* One node is a byte (kind and marks), a count (bytes of a scalar, children of a list or map; seven bits a byte, lowest
 * first), then the scalar's bytes and a NUL, or the children; a map's child is a key and a value. */
#include "text/frozen.h"

#include "base/limits.h"

#include <stdint.h>

enum { MARK_KIND = 3, MARK_QUOTED = 4, MARK_BLOCK = 8 };

static bool write_count(FILE *out, size_t count)
{
  for (; count >= 128; count >>= 7) {
    if (putc((int)(count & 127) | 128, out) == EOF)
      return false;
  }
  return putc((int)count, out) != EOF;
}

bool frozen_write(FILE *out, const struct node *node)
{
  int mark = (int)node->kind | (node->quoted ? MARK_QUOTED : 0) | (node->block ? MARK_BLOCK : 0);
  size_t count = node->kind == NODE_SCALAR ? node->text.size : node->count;
  if (putc(mark, out) == EOF || !write_count(out, count))
    return false;
  if (node->kind == NODE_SCALAR)
    return fwrite(node->text.at, 1, count, out) == count && putc(0, out) != EOF;
  for (size_t i = 0; i < count; i++) {
    const struct node *value = node->kind == NODE_MAP ? &node->pairs[i].value : &node->items[i];
    if (node->kind == NODE_MAP && !frozen_write(out, &node->pairs[i].key))
      return false;
    if (!frozen_write(out, value))
      return false;
  }
  return true;
}

struct thaw {
  struct arena *arena;
  const struct source *source;
  const unsigned char *at, *end;
};

static bool read_count(struct thaw *thaw, size_t *count)
{
  *count = 0;
  for (unsigned shift = 0; thaw->at < thaw->end && shift < 35; shift += 7) {
    unsigned char byte = *thaw->at++;
    *count |= (size_t)(byte & 127) << shift;
    if (byte < 128)
      return true;
  }
  return false;
}

static bool read_node(struct thaw *thaw, unsigned depth, struct node *node)
{
  if (thaw->at == thaw->end || depth > LIMIT_YAML_DEPTH)
    return false;
  unsigned char mark = *thaw->at++;
  size_t count;
  if (!read_count(thaw, &count) || count > (size_t)(thaw->end - thaw->at) || (mark & MARK_KIND) > NODE_MAP)
    return false;
  node->kind = (enum node_kind)(mark & MARK_KIND);
  node->quoted = (mark & MARK_QUOTED) != 0;
  node->block = (mark & MARK_BLOCK) != 0;
  node->place = (struct place){thaw->source->id, 0, 0};
  if (node->kind == NODE_SCALAR) {
    node->text = (struct slice){(const char *)thaw->at, count};
    thaw->at += count;
    return thaw->at < thaw->end && *thaw->at++ == 0;
  }
  node->count = count;
  if (node->kind == NODE_LIST)
    node->items = ARENA_ARRAY(thaw->arena, count, struct node);
  else
    node->pairs = ARENA_ARRAY(thaw->arena, count, struct node_pair);
  for (size_t i = 0; i < count; i++) {
    if (node->kind == NODE_MAP && !read_node(thaw, depth + 1, &node->pairs[i].key))
      return false;
    if (!read_node(thaw, depth + 1, node->kind == NODE_MAP ? &node->pairs[i].value : &node->items[i]))
      return false;
  }
  return true;
}

const struct node *frozen_read(struct arena *arena, const struct source *source)
{
  const unsigned char *at = (const unsigned char *)source->bytes.at;
  struct thaw thaw = {arena, source, at, at + source->bytes.size};
  struct node *root = ARENA_NEW(arena, struct node);
  return read_node(&thaw, 0, root) && thaw.at == thaw.end ? root : NULL;
}
