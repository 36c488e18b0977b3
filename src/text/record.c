/* Shapes by name, their usual styles, and the way from bytes to records. Reading order: record_read, then the reader of
 * the shape (text/lines.c, text/sheet.c, text/xml.c, text/tree.c). */
#include "text/record.h"

#include "base/limits.h"
#include "text/flat.h"

static const char *const shape_names[SHAPE_COUNT] = {"lines", "table", "xml", "json", "yaml"};

static bool (*const shape_readers[SHAPE_COUNT])(struct flat *) = {lines_read, sheet_read, xml_read, tree_read,
                                                                  tree_read};

const char *shape_name(enum record_shape shape)
{
  return shape_names[shape];
}

bool shape_find(struct slice name, enum record_shape *out)
{
  for (size_t i = 0; i < SHAPE_COUNT; i++) {
    if (slice_is(name, shape_names[i])) {
      *out = (enum record_shape)i;
      return true;
    }
  }
  return false;
}

struct record_style record_style_usual(struct arena *arena, enum record_shape shape)
{
  static const struct slice comments[] = {{"#", 1}, {";", 1}};
  static const struct slice keys[] = {{"name", 4}, {"id", 2}, {"key", 3}};
  struct record_style style = {.shape = shape,
                               .encoding = ENCODING_AUTO,
                               .comment_count = sizeof comments / sizeof *comments,
                               .comments = comments,
                               .separator = {"=", 1},
                               .delimiter = ',',
                               .key_count = sizeof keys / sizeof *keys,
                               .keys = keys};
  const char *why = NULL;
  size_t at = 0;
  if (shape == SHAPE_LINES)
    style.section = pattern_compile_plain(arena, slice_of("^\\[(.*)\\]$"), &why, &at);
  return style;
}

bool record_read(struct arena *arena, const struct source *source, const struct record_style *style,
                 struct problems *problems, struct record_list *out)
{
  struct flat flat = {.arena = arena, .source = source, .style = style, .problems = problems};
  *out = (struct record_list){0, NULL};
  if (source->bytes.size > LIMIT_EXPORT_BYTES)
    return problems_add(problems, flat_place(&flat, 0, 0), "the export is over %u MB",
                        LIMIT_EXPORT_BYTES / 1024 / 1024);
  flat.scratch = arena_new();
  bool read = shape_readers[style->shape](&flat);
  if (read)
    flat_finish(&flat, out);
  arena_free(flat.scratch);
  return read;
}
