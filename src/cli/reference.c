/* The reference of the rules, written from the packs, so that it cannot say anything else than they do. Reading order:
 * reference_print, rule_write. */
#include "cli/reference.h"

#include <stdio.h>

struct limits_seen {
  const struct packs *packs;
  bool *of; /* one for each limit of the packs */
};

static void limit_see(void *context, const struct name *name)
{
  struct limits_seen *seen = context;
  const struct slice scope = slice_of("limit.");
  if (name->scope != NAME_LIMIT || name->full.size <= scope.size)
    return;
  const struct limit *limit = packs_limit(seen->packs, slice_part(name->full, scope.size, name->full.size));
  if (limit != NULL)
    seen->of[limit - seen->packs->limits] = true;
}

static void expr_see(struct limits_seen *seen, const struct expr *expr)
{
  if (expr != NULL)
    expr_names(expr, limit_see, seen);
}

static void check_see(struct limits_seen *seen, const struct check *check)
{
  for (size_t i = 0; i < check->applies_count; i++)
    expr_see(seen, check->applies[i].that);
  for (size_t i = 0; i < check->needs_count; i++)
    expr_see(seen, check->needs[i].that);
  expr_see(seen, check->each);
  expr_see(seen, check->where);
  expr_see(seen, check->flag);
  expr_see(seen, check->measure);
  expr_see(seen, check->limit);
  expr_see(seen, check->severe);
  for (size_t i = 0; check->say != NULL && i < check->say->count; i++)
    expr_see(seen, check->say->parts[i].expr);
  for (size_t i = 0; check->act != NULL && i < check->act->count; i++)
    expr_see(seen, check->act->parts[i].expr);
}

const bool *reference_limits(struct arena *arena, const struct packs *packs, const struct rule *rule)
{
  struct limits_seen seen = {packs, ARENA_ARRAY(arena, packs->limit_count + 1, bool)};
  for (size_t i = 0; i < rule->check_count; i++)
    check_see(&seen, &rule->checks[i]);
  return seen.of;
}

static const char *severity_words(struct arena *arena, const enum severity *of)
{
  const char *text = "";
  for (int i = 0; i < STAGE_COUNT; i++)
    text = arena_print(arena, "%s%s%s %s", text, i == 0 ? "" : ", ", stage_name((enum stage)i), severity_name(of[i]));
  return text;
}

static void paragraph(const char *label, const char *text)
{
  if (text != NULL && text[0] != '\0')
    printf("**%s** %s\n\n", label, text);
}

static void limits_write(struct arena *arena, const struct packs *packs, const struct rule *rule)
{
  const bool *seen = reference_limits(arena, packs, rule);
  bool any = false;
  for (size_t i = 0; i < packs->limit_count; i++) {
    const struct limit *limit = &packs->limits[i];
    if (!seen[i])
      continue;
    if (!any)
      puts("| limit | value | basis | why |\n|---|---|---|---|");
    any = true;
    printf("| `%.*s` | %s | %s | %s |\n", SLICE_ARG(limit->name), quantity_print(arena, limit->value, NULL, 0),
           limit->basis, limit->why);
  }
  if (any)
    putchar('\n');
}

static void rule_write(struct arena *arena, const struct packs *packs, const struct rule *rule)
{
  printf("### %.*s\n\n%s.\n\n", SLICE_ARG(rule->id), rule->title);
  printf("Severity: %s", severity_words(arena, rule->severity));
  if (rule->has_severe)
    printf("; at worst %s", severity_words(arena, rule->severe));
  printf(".\nReads:");
  for (size_t i = 0; i < rule->need_count; i++)
    printf("%s `%s`", i == 0 ? "" : ",", rule->needs[i]);
  for (size_t i = 0; i < rule->phase_count; i++)
    printf("%s [%s](#phases)", i == 0 ? ".\nPhases:" : ",", rule->phases[i]);
  puts(".\n");
  paragraph("Why.", rule->why);
  paragraph("Do.", rule->act);
  paragraph("Prove it by hand.", rule->verify);
  paragraph("Meant to be so when.", rule->by_design);
  limits_write(arena, packs, rule);
  paragraph("Basis.", rule->basis);
  printf("Cautions:");
  for (size_t i = 0; i < rule->caution_count; i++)
    printf("%s [%s](#cautions)", i == 0 ? "" : ",", rule->cautions[i]);
  puts(".\n");
}

static void phases_write(const struct packs *packs)
{
  puts("## Phases\n\nWhat the engine does, as the rules share it. A rule that demands one is undecided when the log "
       "holds less of it.\n\n"
       "| phase | in words | when | at least | why |\n|---|---|---|---|---|");
  for (size_t i = 0; i < packs->phase_count; i++) {
    const struct phase *phase = &packs->phases[i];
    printf("| %.*s | %s | `%s` | `%s` | %s |\n", SLICE_ARG(phase->name), phase->title, phase->when_written,
           phase->least_written, phase->why);
  }
  putchar('\n');
}

void reference_print(struct arena *arena, const struct packs *packs)
{
  printf("# The rules\n\n<!-- Written by `keyway list --reference`; not to be edited. -->\n\n%zu rules. A finding is a "
         "second look, not an "
         "approval: local law and a qualified person on site come first.\n",
         packs->rule_count);
  const char *topic = "";
  for (size_t i = 0; i < packs->rule_count; i++) {
    const struct rule *rule = packs->rules[i];
    if (strcmp(topic, rule->topic) != 0)
      printf("\n## %c%s\n\n", rule->topic[0] >= 'a' && rule->topic[0] <= 'z' ? rule->topic[0] - 32 : rule->topic[0],
             rule->topic + 1);
    topic = rule->topic;
    rule_write(arena, packs, rule);
  }
  phases_write(packs);
  puts("## Cautions\n\n| id | word | text |\n|---|---|---|");
  for (size_t i = 0; i < packs->caution_count; i++)
    printf("| %s | %s | %s |\n", packs->cautions[i].id, packs->cautions[i].word, packs->cautions[i].text);
}
