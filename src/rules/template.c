/* Messages with {expressions}: "{p.value | 0.1 %}". Reading order: rule_message splits, placeholder compiles one,
 * message_fill prints. */
#include "rules/template.h"

#include "base/number.h"
#include "expr/eval.h"
#include "rules/locate.h"
#include "rules/rule.h"

/* "0.1 kPa", "0.1", "kPa" after the bar. */
static bool read_format(struct rule_reader *reader, const struct node *node, size_t from, struct slice text,
                        const struct expr *expr, struct message_part *part)
{
  struct slice trimmed = slice_trim(text);
  size_t at = trimmed.size > 0 ? from + (size_t)(trimmed.at - text.at) : from;
  struct place place = node_place(reader->source, node, at, at + (trimmed.size > 0 ? trimmed.size : text.size));
  size_t used = number_read(trimmed, '.', &part->step);
  if (used > 0 && part->step <= 0)
    return problems_add(reader->problems, place, "a rounding step is above 0");
  struct slice unit = slice_trim(slice_part(trimmed, used, trimmed.size));
  const struct type *type = expr_type(expr);
  if (type->kind != TYPE_NUMBER)
    return problems_add(reader->problems, place, "only numbers are rounded or shown in another unit");
  if (unit.size == 0)
    return used > 0 || problems_add(reader->problems, place, "a rounding step or a unit is expected after '|'");
  const char *why = NULL;
  part->shown = unit_read(reader->arena, unit, &why);
  if (!part->shown)
    return problems_add(reader->problems, place, "%s", why);
  if (type->any_unit || !measure_equal(type->of, (struct measure){part->shown->dimension, part->shown->sense}))
    return problems_add(reader->problems, place, "%s cannot be shown in '%.*s'", type_print(reader->arena, type),
                        SLICE_ARG(unit));
  return true;
}

/* The text between { and }. */
static bool placeholder(struct rule_reader *reader, const struct node *node, const struct scope_chain *chain,
                        size_t from, size_t to, struct message_part *part)
{
  size_t bar = from;
  char quote = '\0';
  for (; bar < to; bar++) {
    char c = node->text.at[bar];
    if (quote)
      quote = c == quote ? '\0' : quote;
    else if (c == '"' || c == '\'')
      quote = c;
    else if (c == '|')
      break;
  }
  struct locate_context context;
  struct locator locator = locate(&context, reader->source, node, from);
  part->expr = expr_compile(reader->arena, reader->graph, reader->names, slice_part(node->text, from, bar), chain,
                            &locator, reader->problems);
  if (!part->expr)
    return false;
  const struct type *type = expr_type(part->expr);
  bool printable = (type->kind == TYPE_NUMBER || type->kind == TYPE_SWITCH || type->kind == TYPE_TEXT) && !type->series;
  if (!printable)
    return problems_add(reader->problems, node_place(reader->source, node, from, bar),
                        "%s cannot be put into a message", type_print(reader->arena, type));
  return bar == to || read_format(reader, node, bar + 1, slice_part(node->text, bar + 1, to), part->expr, part);
}

const struct message *rule_message(struct rule_reader *reader, const struct node *node, const struct scope_chain *chain)
{
  struct message_part *parts = NULL;
  size_t count = 0, capacity = 0;
  struct slice text = node->text;
  bool good = true;
  for (size_t i = 0; i < text.size;) {
    parts = arena_grow(reader->arena, parts, count, &capacity, sizeof *parts);
    struct message_part *part = &parts[count++];
    *part = (struct message_part){.text = {NULL, 0}};
    bool doubled = i + 1 < text.size && text.at[i + 1] == text.at[i];
    if (text.at[i] == '{' && !doubled) {
      size_t end = i + 1;
      while (end < text.size && text.at[end] != '}')
        end++;
      if (end == text.size) {
        problems_add(reader->problems, node_place(reader->source, node, i, i + 1),
                     "this '{' has no '}'; a brace as such is written '{{'");
        return NULL;
      }
      good = placeholder(reader, node, chain, i + 1, end, part) && good;
      i = end + 1;
    } else if (text.at[i] == '{' || text.at[i] == '}') {
      if (!doubled) {
        good = problems_add(reader->problems, node_place(reader->source, node, i, i + 1),
                            "this '}' has no '{'; a brace as such is written '}}'");
        i++;
        continue;
      }
      part->text = slice_part(text, i, i + 1);
      i += 2;
    } else {
      size_t end = i;
      while (end < text.size && text.at[end] != '{' && text.at[end] != '}')
        end++;
      part->text = slice_part(text, i, end);
      i = end;
    }
  }
  if (!good)
    return NULL;
  struct message *message = ARENA_NEW(reader->arena, struct message);
  *message = (struct message){count, parts};
  return message;
}

const char *message_outline(struct arena *arena, struct slice text)
{
  char *out = arena_alloc(arena, text.size + 1), *to = out;
  bool inside = false, format = false;
  for (size_t i = 0; i < text.size; i++) {
    char c = text.at[i];
    bool doubled = !inside && i + 1 < text.size && text.at[i + 1] == c;
    if (doubled && (c == '{' || c == '}')) {
      *to++ = c;
      i++;
    } else if (c == '{' || c == '}') {
      while (c == '}' && to > out && to[-1] == ' ')
        to--;
      inside = c == '{';
      format = false;
      *to++ = inside ? '[' : ']';
    } else {
      format = format || (inside && c == '|');
      if (!format)
        *to++ = c;
    }
  }
  *to = '\0';
  return out;
}

const char *message_fill(struct arena *arena, const struct message *message, struct evaluation *evaluation)
{
  struct slice *pieces = ARENA_ARRAY(arena, message->count + 1, struct slice);
  size_t size = 0, clock = message->count;
  for (size_t i = 0; i < message->count; i++) {
    const struct expr *expr = message->parts[i].expr;
    if (expr && evaluation_clock(evaluation, expr)[0] != '\0')
      clock = i; /* "from 3 s to 5 s of log 2": the log once, at the last time */
  }
  for (size_t i = 0; i < message->count; i++) {
    const struct message_part *part = &message->parts[i];
    pieces[i] = part->text;
    if (part->expr) {
      struct result result = evaluate(evaluation, part->expr);
      const char *text = result_print(arena, &result, expr_type(part->expr), part->shown, part->step);
      if (i == clock)
        text = arena_print(arena, "%s%s", text, evaluation_clock(evaluation, part->expr));
      pieces[i] = slice_of(text);
    }
    size += pieces[i].size;
  }
  char *out = arena_alloc(arena, size + 1), *to = out;
  for (size_t i = 0; i < message->count; i++) {
    if (pieces[i].size > 0)
      memcpy(to, pieces[i].at, pieces[i].size);
    to += pieces[i].size;
  }
  return out;
}
