/* Every member of every rule, in the order in which rules/pack.h has them; the names and expressions that they point at
 * come first. */
#include "rules/image.h"

#include "expr/image.h"
#include "units/image.h"

struct context {
  struct image *image;
  const struct names *names;
  const struct graph *graph;
  size_t caution_count;
  const struct caution_text *cautions;
};

static const struct expr *tree(struct context *context, const struct expr *expr)
{
  return expr_image(context->image, expr, context->graph);
}

static struct place no_place(const struct image *image, struct place place)
{
  return image->writes ? place : (struct place){0, 0, 0};
}

static const struct condition *conditions_image(struct context *context, const struct condition *given, size_t count)
{
  struct condition *conditions = image_array(context->image, given, count, sizeof *conditions);
  for (size_t i = 0; i < count; i++) {
    conditions[i].that = tree(context, conditions[i].that);
    conditions[i].otherwise = image_text(context->image, conditions[i].otherwise);
    conditions[i].least = tree(context, conditions[i].least);
  }
  return conditions;
}

static const struct expr *const *places_image(struct context *context, const struct expr *const *given, size_t count)
{
  const struct expr **places = image_array(context->image, given, count, sizeof *places);
  for (size_t i = 0; i < count; i++)
    places[i] = tree(context, places[i]);
  return places;
}

static const struct message *message_image(struct context *context, const struct message *given)
{
  struct image *image = context->image;
  struct message *message = image_array(image, given, 1, sizeof *message);
  message->count = image_count(image, message->count);
  struct message_part *parts = image_array(image, message->parts, message->count, sizeof *parts);
  for (size_t i = 0; i < message->count; i++) {
    struct message_part *part = &parts[i];
    part->expr = tree(context, part->expr);
    if (part->expr == NULL) {
      part->text = image_slice(image, part->text);
      continue;
    }
    part->shown = unit_image(image, part->shown);
    if (image_word(image, part->step > 0) != 0)
      part->step = image_number(image, part->step);
  }
  message->parts = parts;
  return message;
}

static void severities_image(struct image *image, enum severity *severities)
{
  for (int stage = 0; stage < STAGE_COUNT; stage++)
    severities[stage] = (enum severity)image_index(image, severities[stage], SEVERITY_COUNT);
}

static void check_image(struct context *context, struct check *check)
{
  struct image *image = context->image;
  check->applies_count = image_count(image, check->applies_count);
  check->applies = conditions_image(context, check->applies, check->applies_count);
  check->needs_count = image_count(image, check->needs_count);
  check->needs = conditions_image(context, check->needs, check->needs_count);
  check->item_name = image_slice(image, check->item_name);
  check->each = tree(context, check->each);
  check->where = tree(context, check->where);
  check->flag = tree(context, check->flag);
  check->subject = tree(context, check->subject);
  check->subject_name = image_text(image, check->subject_name);
  check->measure = tree(context, check->measure);
  check->limit = tree(context, check->limit);
  check->place_count = image_count(image, check->place_count);
  check->places = places_image(context, check->places, check->place_count);
  check->say = message_image(context, check->say);
  if (image_word(image, check->act != NULL) != 0)
    check->act = message_image(context, check->act);
  check->severe = tree(context, check->severe);
  severities_image(image, check->severity);
}

static const char *const *texts_image(struct image *image, const char *const *given, size_t count)
{
  const char **texts = image_array(image, given, count, sizeof *texts);
  for (size_t i = 0; i < count; i++)
    texts[i] = image_text(image, texts[i]);
  return texts;
}

/* Most are the text of a name; the others, "tune.*", are written out. */
static const char *const *needs_image(struct context *context, const char *const *given, size_t count)
{
  const char **needs = image_array(context->image, given, count, sizeof *needs);
  for (size_t i = 0; i < count; i++) {
    const struct name *name = context->image->writes ? names_find(context->names, slice_of(needs[i])) : NULL;
    name = name_image(context->image, name, context->names);
    needs[i] = name != NULL ? name->full.at : image_text(context->image, needs[i]);
  }
  return needs;
}

static const char *const *caution_ids(struct context *context, const char *const *given, size_t count)
{
  const char **ids = image_array(context->image, given, count, sizeof *ids);
  for (size_t i = 0; i < count; i++) {
    size_t at = 0;
    while (context->image->writes && context->cautions[at].id != ids[i])
      at++;
    at = image_index(context->image, at, context->caution_count);
    ids[i] = context->image->broken ? "" : context->cautions[at].id;
  }
  return ids;
}

static const struct rule *rule_image(struct context *context, const struct rule *given)
{
  struct image *image = context->image;
  struct rule *rule = image_array(image, given, 1, sizeof *rule);
  rule->id = image_slice(image, rule->id);
  rule->title = image_text(image, rule->title);
  rule->topic = image_text(image, rule->topic);
  severities_image(image, rule->severity);
  rule->has_severe = image_word(image, rule->has_severe) != 0;
  severities_image(image, rule->severe);
  rule->decide_any = image_word(image, rule->decide_any) != 0;
  rule->first = image_word(image, rule->first) != 0;
  rule->check_count = image_count(image, rule->check_count);
  struct check *checks = image_array(image, rule->checks, rule->check_count, sizeof *checks);
  for (size_t i = 0; i < rule->check_count; i++)
    check_image(context, &checks[i]);
  rule->checks = checks;
  rule->why = image_text(image, rule->why);
  rule->act = image_text(image, rule->act);
  rule->verify = image_text(image, rule->verify);
  rule->by_design = image_text(image, rule->by_design);
  rule->basis = image_text(image, rule->basis);
  rule->caution_count = image_count(image, rule->caution_count);
  rule->cautions = caution_ids(context, rule->cautions, rule->caution_count);
  rule->explain_count = image_count(image, rule->explain_count);
  rule->explains = texts_image(image, rule->explains, rule->explain_count);
  rule->pack = image_text(image, rule->pack);
  rule->place = no_place(image, rule->place);
  rule->need_count = image_count(image, rule->need_count);
  rule->needs = needs_image(context, rule->needs, rule->need_count);
  rule->phase_count = image_count(image, rule->phase_count);
  rule->phases = texts_image(image, rule->phases, rule->phase_count);
  return rule;
}

static const struct limit *limits_image(struct image *image, const struct limit *given, size_t count)
{
  struct limit *limits = image_array(image, given, count, sizeof *limits);
  for (size_t i = 0; i < count; i++) {
    struct limit *limit = &limits[i];
    limit->name = image_slice(image, limit->name);
    limit->value = quantity_image(image, limit->value);
    limit->step = quantity_image(image, limit->step);
    limit->basis = image_text(image, limit->basis);
    limit->why = image_text(image, limit->why);
    limit->pack = image_text(image, limit->pack);
    limit->place = no_place(image, limit->place);
  }
  return limits;
}

static const struct phase *phases_image(struct context *context, const struct phase *given, size_t count)
{
  struct image *image = context->image;
  struct phase *phases = image_array(image, given, count, sizeof *phases);
  for (size_t i = 0; i < count; i++) {
    struct phase *phase = &phases[i];
    phase->name = image_slice(image, phase->name);
    phase->title = image_text(image, phase->title);
    phase->when = tree(context, phase->when);
    phase->held = tree(context, phase->held);
    phase->spans = tree(context, phase->spans);
    phase->least = tree(context, phase->least);
    phase->when_written = image_text(image, phase->when_written);
    phase->least_written = image_text(image, phase->least_written);
    phase->why = image_text(image, phase->why);
    phase->pack = image_text(image, phase->pack);
    phase->place = no_place(image, phase->place);
    phase->order = (size_t)image_word(image, phase->order);
  }
  return phases;
}

static const struct caution_text *cautions_image(struct image *image, const struct caution_text *given, size_t count)
{
  struct caution_text *cautions = image_array(image, given, count, sizeof *cautions);
  for (size_t i = 0; i < count; i++) {
    cautions[i].id = image_text(image, cautions[i].id);
    cautions[i].word = image_text(image, cautions[i].word);
    cautions[i].text = image_text(image, cautions[i].text);
    cautions[i].defers = image_word(image, cautions[i].defers) != 0;
  }
  return cautions;
}

const struct packs *packs_image(struct image *image, const struct packs *given)
{
  struct packs *packs = image_array(image, given, 1, sizeof *packs);
  packs->arena = image->arena;
  language_image(image, &packs->names, &packs->graph);
  packs->limit_count = image_count(image, packs->limit_count);
  packs->limits = limits_image(image, packs->limits, packs->limit_count);
  packs->caution_count = image_count(image, packs->caution_count);
  const struct caution_text *cautions = cautions_image(image, packs->cautions, packs->caution_count);
  struct context context = {image, packs->names, packs->graph, packs->caution_count,
                            image->writes ? packs->cautions : cautions};
  packs->cautions = cautions;
  packs->phase_count = image_count(image, packs->phase_count);
  packs->phases = phases_image(&context, packs->phases, packs->phase_count);
  packs->rule_count = image_count(image, packs->rule_count);
  const struct rule **rules = image_array(image, packs->rules, packs->rule_count, sizeof *rules);
  for (size_t i = 0; i < packs->rule_count && !image->broken; i++)
    rules[i] = rule_image(&context, rules[i]);
  packs->rules = rules;
  return image->broken ? NULL : packs;
}
