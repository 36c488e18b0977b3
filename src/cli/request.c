/* What `keyway audit` and `keyway log` were asked to do. Reading order: request_read at the end, then one function an
 * option. */
#include "cli/request.h"

#include "units/unit.h"

#define RATE_MOST 1e6 /* samples per second: a thousand times the fastest logger of the trade */
#define NEED_MOST 1000000000u
#define THREADS_MOST 64u

const struct report_format *request_format(const char *name, struct problems *problems)
{
  for (const struct report_format *format = report_formats; format->name != NULL; format++) {
    if (strcmp(format->name, name) == 0)
      return format;
  }
  problems_add(problems, PLACE_NONE, "'--format' takes %s, not '%s'", line_options[OPTION_FORMAT].argument, name);
  return NULL;
}

static void stage_read(const struct line *line, struct request *out, struct problems *problems)
{
  const char *value = line_value(line, OPTION_STAGE);
  out->has_stage = value != NULL;
  if (value != NULL && !stage_find(slice_of(value), &out->stage))
    problems_add(problems, PLACE_NONE, "'--stage' takes %s, not '%s'", line_options[OPTION_STAGE].argument, value);
}

static void fail_on_read(const struct line *line, struct request *out, struct problems *problems)
{
  const char *value = line_value(line, OPTION_FAIL_ON);
  out->fail_on = SEVERITY_FIX;
  if (value == NULL)
    return;
  if (strcmp(value, "never") == 0)
    out->fail_on = SEVERITY_NONE;
  else if (!severity_find(slice_of(value), &out->fail_on) || out->fail_on == SEVERITY_NONE)
    problems_add(problems, PLACE_NONE, "'--fail-on' takes %s, not '%s'", line_options[OPTION_FAIL_ON].argument, value);
}

static void color_read(const struct line *line, struct request *out, struct problems *problems)
{
  const char *value = line_value(line, OPTION_COLOR);
  out->color = COLOR_AUTO;
  if (value == NULL || strcmp(value, "auto") == 0)
    return;
  if (strcmp(value, "always") == 0)
    out->color = COLOR_ALWAYS;
  else if (strcmp(value, "never") == 0)
    out->color = COLOR_NEVER;
  else
    problems_add(problems, PLACE_NONE, "'--color' takes %s, not '%s'", line_options[OPTION_COLOR].argument, value);
}

/* Digits and nothing else, up to `most`. */
static bool whole_read(const char *text, size_t most, size_t *out)
{
  const char *at = text;
  *out = 0;
  for (; *at >= '0' && *at <= '9' && *out <= most; at++)
    *out = *out * 10 + (size_t)(*at - '0');
  return at > text && *at == '\0' && *out <= most;
}

static void need_read(const struct line *line, struct request *out, struct problems *problems)
{
  const char *value = line_value(line, OPTION_NEED);
  out->need = 1;
  if (value == NULL)
    return;
  bool whole = whole_read(value, NEED_MOST, &out->need);
  if (whole && out->need > 0)
    return;
  problems_add(problems, PLACE_NONE, "'--need' takes a whole number from 1 to %u, not '%s'", NEED_MOST, value);
  if (whole)
    problems_hint(problems, "nothing checked is never a pass");
}

static void threads_read(const struct line *line, struct request *out, struct problems *problems)
{
  const char *value = line_value(line, OPTION_THREADS);
  if (value != NULL && !whole_read(value, THREADS_MOST, &out->threads))
    problems_add(problems, PLACE_NONE, "'--threads' takes a whole number from 0 to %u, not '%s'", THREADS_MOST, value);
}

static void rate_read(struct arena *arena, const struct line *line, struct request *out, struct problems *problems)
{
  const char *value = line_value(line, OPTION_RATE);
  if (value == NULL)
    return;
  struct quantity rate;
  const char *why = NULL;
  const struct unit *hertz = unit_find(slice_of("Hz"));
  if (!quantity_read(arena, slice_of(value), hertz, &rate, &why)) {
    problems_add(problems, PLACE_NONE, "'--rate' takes samples per second, not '%s': %s", value, why);
    return;
  }
  out->rate = rate.value;
  if (!unit_agrees(rate.unit, hertz))
    problems_add(problems, PLACE_NONE, "'--rate' takes samples per second such as \"25 Hz\", not '%s'", value);
  else if (!(rate.value > 0.0) || rate.value > RATE_MOST)
    problems_add(problems, PLACE_NONE, "'--rate' must be over 0 Hz and at most %.0f Hz, not '%s'", RATE_MOST, value);
}

/* `output` is that of the format before it; NULL when there is none yet. */
static void output_read(struct output_request *output, const char *value, struct problems *problems)
{
  if (output == NULL)
    problems_add(problems, PLACE_NONE, "'--output %s' stands before the '--format' it belongs to", value);
  else if (output->file != NULL)
    problems_add(problems, PLACE_NONE, "'--output' was given twice for one format: '%s' and '%s'", output->file, value);
  else
    output->file = value;
}

/* Two reports in one place would be neither. */
static void outputs_check(const struct output_request *outputs, size_t count, struct problems *problems)
{
  for (size_t i = 0; i < count; i++) {
    for (size_t j = 0; j < i; j++) {
      const char *a = outputs[i].file, *b = outputs[j].file;
      if (a == NULL && b == NULL) {
        problems_add(problems, PLACE_NONE, "two reports would go to standard output");
        problems_hint(problems, "follow each '--format' by its '--output FILE'");
      } else if (a != NULL && b != NULL && strcmp(a, b) == 0) {
        problems_add(problems, PLACE_NONE, "two reports would go to '%s'", a);
      }
    }
  }
}

static void outputs_read(struct arena *arena, const struct line *line, struct request *out, struct problems *problems)
{
  struct output_request *outputs = ARENA_ARRAY(arena, line->given_count + 1, struct output_request);
  size_t formats;
  line_values(arena, line, OPTION_FORMAT, &formats);
  size_t count = formats == 0 ? 1 : 0;
  outputs[0].format = &report_formats[0];
  for (size_t i = 0; i < line->given_count; i++) {
    const struct line_given *given = &line->given[i];
    if (given->id == OPTION_FORMAT)
      outputs[count++].format = request_format(given->value, problems);
    else if (given->id == OPTION_OUTPUT)
      output_read(count == 0 ? NULL : &outputs[count - 1], given->value, problems);
  }
  for (size_t i = 0; i < count; i++) {
    if (outputs[i].file != NULL && strcmp(outputs[i].file, "-") == 0)
      outputs[i].file = NULL;
  }
  outputs_check(outputs, count, problems);
  out->outputs = outputs;
  out->output_count = count;
}

/* Standard input can be read once. */
static void stdin_check(const struct request *request, struct problems *problems)
{
  const char *const named[] = {request->job, request->before, request->adapter, request->log_adapter};
  size_t count = 0;
  for (size_t i = 0; i < request->settings_count; i++)
    count += strcmp(request->settings[i], "-") == 0;
  for (size_t i = 0; i < request->log_count; i++)
    count += strcmp(request->logs[i], "-") == 0;
  for (size_t i = 0; i < request->rules_count; i++)
    count += strcmp(request->rules[i], "-") == 0;
  for (size_t i = 0; i < sizeof named / sizeof *named; i++)
    count += named[i] != NULL && strcmp(named[i], "-") == 0;
  if (count > 1)
    problems_add(problems, PLACE_NONE, "'-', standard input, was given for %zu inputs; it can be read once", count);
}

/* What a log shows would count double. */
static void logs_check(const struct request *request, struct problems *problems)
{
  for (size_t i = 0; i < request->log_count; i++) {
    for (size_t k = 0; k < i; k++) {
      if (strcmp(request->logs[i], request->logs[k]) == 0 && strcmp(request->logs[i], "-") != 0)
        problems_add(problems, PLACE_NONE, "the log '%s' was given twice", request->logs[i]);
    }
  }
}

bool request_read(struct arena *arena, const struct line *line, struct request *out, struct problems *problems)
{
  bool of_logs = line->command == COMMAND_LOG;
  *out = (struct request){.settings_count = line->argument_count, .settings = line->arguments};
  out->logs = line_values(arena, line, OPTION_LOG, &out->log_count);
  if (of_logs) {
    out->logs = line->arguments;
    out->log_count = line->argument_count;
    out->settings = line_values(arena, line, OPTION_SETTINGS, &out->settings_count);
    out->tables = line_values(arena, line, OPTION_TABLE, &out->table_count);
    if (out->table_count > 0 && out->settings_count == 0)
      problems_add(problems, PLACE_NONE,
                   "'--table' asks for the cells of a table: give its settings file with '--settings'");
  }
  out->job = line_value(line, OPTION_JOB);
  out->before = line_value(line, OPTION_BEFORE);
  out->root = line_value(line, OPTION_ROOT);
  out->adapter = line_value(line, OPTION_ADAPTER);
  out->log_adapter = line_value(line, OPTION_LOG_ADAPTER);
  out->stats = line_value(line, OPTION_STATS) != NULL;
  out->unused = line_value(line, OPTION_UNUSED) != NULL;
  out->rules = line_values(arena, line, OPTION_RULES, &out->rules_count);
  stdin_check(out, problems);
  logs_check(out, problems);
  stage_read(line, out, problems);
  fail_on_read(line, out, problems);
  color_read(line, out, problems);
  need_read(line, out, problems);
  threads_read(line, out, problems);
  rate_read(arena, line, out, problems);
  outputs_read(arena, line, out, problems);
  if (out->log_adapter != NULL && out->log_count == 0)
    problems_add(problems, PLACE_NONE, "'--log-adapter' needs the '--log' that it reads");
  if (of_logs && out->adapter != NULL && out->settings_count == 0)
    problems_add(problems, PLACE_NONE, "'--adapter' needs the '--settings' that it reads; logs take '--log-adapter'");
  if (out->unused && out->adapter == NULL)
    problems_add(problems, PLACE_NONE, "'--unused' needs the '--adapter' that leaves records unused");
  return !problems_has(problems, PROBLEM_OF_USAGE);
}
