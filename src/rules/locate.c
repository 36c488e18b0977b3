/* The one bridge from an expression's byte offsets to the pack's file. */
#include "rules/locate.h"

static struct place place_in_node(const void *context, size_t from, size_t to)
{
  const struct locate_context *where = context;
  return node_place(where->source, where->node, where->shift + from, where->shift + to);
}

struct locator locate(struct locate_context *context, const struct source *source, const struct node *node,
                      size_t shift)
{
  *context = (struct locate_context){source, node, shift};
  return (struct locator){place_in_node, context};
}
