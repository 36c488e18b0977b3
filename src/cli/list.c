/* keyway list: a line a rule, by topic. */
#include "cli/command.h"

#include "cli/library.h"
#include "cli/reference.h"
#include "cli/request.h"
#include "report/escape.h"

#include <jansson.h>
#include <stdlib.h>

/* 'S' for settings, 'L' for a log, 'J' for a job sheet: what some expression of the rule reads. */
static bool reads(const struct rule *rule, const char *scope)
{
  for (size_t i = 0; i < rule->need_count; i++) {
    if (strncmp(rule->needs[i], scope, strlen(scope)) == 0)
      return true;
  }
  return false;
}

static size_t widest_id(const struct packs *packs)
{
  size_t widest = 0;
  for (size_t i = 0; i < packs->rule_count; i++) {
    size_t columns = escape_columns(packs->rules[i]->id);
    widest = columns > widest ? columns : widest;
  }
  return widest;
}

/* A severity that is not raised at a stage is shown as a dash. */
static const char *severity_short(enum severity severity)
{
  return severity == SEVERITY_NONE ? "-" : severity_name(severity);
}

static void rule_print(struct arena *arena, const struct rule *rule, size_t width)
{
  const char *severities =
      arena_print(arena, "%-5s %-5s %-5s", severity_short(rule->severity[STAGE_LOOK]),
                  severity_short(rule->severity[STAGE_DYNO]), severity_short(rule->severity[STAGE_DELIVERY]));
  const char *id = escape_line(arena, rule->id);
  printf("  %s%*s  %s  %c%c%c  %s\n", id, (int)(width - escape_columns(rule->id)), "", severities,
         reads(rule, "tune.") ? 'S' : '-', reads(rule, "log.") ? 'L' : '-', reads(rule, "job.") ? 'J' : '-',
         escape_line(arena, slice_of(rule->title)));
}

static void text_list(struct arena *arena, const struct packs *packs)
{
  size_t width = widest_id(packs);
  printf("  %-*s  look  dyno  deliv  needs: S settings, L log, J job sheet\n", (int)width, "rule");
  const char *topic = NULL;
  for (size_t i = 0; i < packs->rule_count; i++) {
    const struct rule *rule = packs->rules[i];
    if (topic == NULL || strcmp(topic, rule->topic) != 0)
      printf("\n%s\n", escape_line(arena, slice_of(rule->topic)));
    topic = rule->topic;
    rule_print(arena, rule, width);
  }
  printf("\n%zu rule%s.\n", packs->rule_count, packs->rule_count == 1 ? "" : "s");
}

static json_t *text_of(struct arena *arena, struct slice text)
{
  struct slice sound = escape_mend(arena, text);
  return json_stringn(sound.size == 0 ? "" : sound.at, sound.size);
}

/* Returns NULL when memory ran out. */
static json_t *rule_object(struct arena *arena, const struct rule *rule)
{
  json_t *needs = json_array(), *severity = json_object(), *object = json_object();
  int failed = 0;
  for (size_t i = 0; i < rule->need_count; i++)
    failed |= json_array_append_new(needs, text_of(arena, slice_of(rule->needs[i])));
  for (int i = 0; i < STAGE_COUNT; i++)
    failed |= json_object_set_new(severity, stage_name((enum stage)i), json_string(severity_name(rule->severity[i])));
  failed |= json_object_set_new(object, "rule", text_of(arena, rule->id));
  failed |= json_object_set_new(object, "title", text_of(arena, slice_of(rule->title)));
  failed |= json_object_set_new(object, "topic", text_of(arena, slice_of(rule->topic)));
  failed |= json_object_set_new(object, "pack", text_of(arena, slice_of(rule->pack)));
  failed |= json_object_set_new(object, "severity", severity);
  failed |= json_object_set_new(object, "needs", needs);
  if (failed == 0)
    return object;
  json_decref(object);
  return NULL;
}

/* An array of objects, one a rule, on one line. */
static enum status json_list(struct arena *arena, const struct packs *packs)
{
  json_t *array = json_array();
  int failed = 0;
  for (size_t i = 0; i < packs->rule_count; i++)
    failed |= json_array_append_new(array, rule_object(arena, packs->rules[i]));
  char *text = failed == 0 ? json_dumps(array, JSON_COMPACT | JSON_ENSURE_ASCII) : NULL;
  if (text != NULL)
    puts(text);
  else
    fputs("keyway: out of memory\n", stderr);
  enum status status = text != NULL ? STATUS_CLEAN : STATUS_FAULT;
  free(text);
  json_decref(array);
  return status;
}

enum status list_command(struct run *run, const struct line *line)
{
  struct problems problems;
  problems_init(&problems, run->arena, PROBLEM_OF_USAGE);
  size_t format_count, rules_count;
  const char *const *formats = line_values(run->arena, line, OPTION_FORMAT, &format_count);
  const char *const *rules = line_values(run->arena, line, OPTION_RULES, &rules_count);
  const struct report_format *format = format_count > 0 ? request_format(formats[0], &problems) : &report_formats[0];
  if (format_count > 1)
    problems_add(&problems, PLACE_NONE, "'list' takes one '--format'");
  if (problems.count > 0)
    return command_refuse(run, &problems);
  struct library library;
  bool read = library_read(run->arena, run->sources, LIBRARY_LEAN, rules, rules_count, &library, &problems);
  sources_name(run->sources, NULL);
  if (!read)
    return command_refuse(run, &problems);
  if (strcmp(format->name, "json") == 0)
    return json_list(run->arena, library.packs);
  if (line_value(line, OPTION_REFERENCE) != NULL)
    reference_print(run->arena, library.packs);
  else
    text_list(run->arena, library.packs);
  return STATUS_CLEAN;
}
