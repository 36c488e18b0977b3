/* keyway sheet: audits a settings file without a job sheet, and asks for every fact and reading for want of which some
 * rule stayed undecided. Reading order: sheet_command, sheet_make; questions_collect; sheet_write. */
#include "cli/sheet.h"

#include "audit/audit.h"
#include "base/limits.h"
#include "cli/adapters.h"
#include "cli/checklist.h"
#include "cli/output.h"
#include "report/escape.h"

struct question { /* one fact or reading; count 0: nobody asks */
  size_t count;
  const struct undecided **by;
};

struct sheet {
  struct run *run;
  struct library library;
  enum stage stage;
  const struct source *source;
  const struct settings *settings;
  const struct checklist *checklist;
  struct question *questions; /* one for each job entry of the vocabulary */
};

static const struct entry *job_entry(const struct vocabulary *vocabulary, const char *name)
{
  static const char prefix[] = "job.";
  if (strncmp(name, prefix, sizeof prefix - 1) != 0)
    return NULL;
  struct slice rest = slice_of(name + sizeof prefix - 1);
  const struct entry *entry = vocabulary_find(vocabulary, SCOPE_JOB, rest);
  /* "job.timing_light.measured" is a field of a reading. */
  for (size_t i = rest.size; entry == NULL && i-- > 0;) {
    if (rest.at[i] == '.')
      entry = vocabulary_find(vocabulary, SCOPE_JOB, (struct slice){rest.at, i});
  }
  return entry;
}

/* Once for each rule: a reading is named by several of its fields. */
static void ask(struct sheet *sheet, const struct undecided *by, const char *name)
{
  const struct vocabulary *vocabulary = sheet->library.vocabulary;
  const struct entry *entry = job_entry(vocabulary, name);
  if (entry == NULL)
    return;
  struct question *question = &sheet->questions[vocabulary_index(vocabulary, SCOPE_JOB, entry)];
  if (question->count == 0)
    question->by = ARENA_ARRAY(sheet->run->arena, sheet->library.packs->rule_count, const struct undecided *);
  if (question->count == 0 || question->by[question->count - 1] != by)
    question->by[question->count++] = by;
}

static bool is_name(const char *missing)
{
  for (enum scope scope = SCOPE_TUNE; scope < SCOPE_COUNT; scope++) {
    size_t size = strlen(scope_name(scope));
    if (strncmp(missing, scope_name(scope), size) == 0 && missing[size] == '.')
      return true;
  }
  return strncmp(missing, "before.", strlen("before.")) == 0;
}

/* What a rule lacks is named, or said in words of its own; then all that it reads in the sheet may be what it lacks. */
static void questions_collect(struct sheet *sheet, const struct outcome *outcome)
{
  sheet->questions = ARENA_ARRAY(sheet->run->arena, sheet->library.vocabulary->count[SCOPE_JOB], struct question);
  for (size_t i = 0; i < outcome->undecided_count; i++) {
    const struct undecided *by = &outcome->undecided[i];
    const struct rule *rule = packs_find(sheet->library.packs, slice_of(by->rule));
    bool in_words = false;
    for (size_t k = 0; k < by->missing_count; k++) {
      in_words = in_words || !is_name(by->missing[k]);
      ask(sheet, by, by->missing[k]);
    }
    for (size_t k = 0; in_words && rule != NULL && k < rule->need_count; k++)
      ask(sheet, by, rule->needs[k]);
  }
}

static void write_unit(FILE *out, const struct unit *unit)
{
  if (unit != NULL && strcmp(unit->name, "1") != 0)
    fprintf(out, "; in %s", unit->name);
}

/* What is asked, and then who asks. */
static void write_why(const struct sheet *sheet, FILE *out, const struct entry *entry, const struct question *question)
{
  struct arena *arena = sheet->run->arena;
  if (entry->about.size > 0)
    fprintf(out, "  # %s\n", escape_line(arena, entry->about));
  for (size_t i = 0; i < question->count; i++)
    fprintf(out, "  # %s: %s\n", escape_line(arena, slice_of(question->by[i]->rule)),
            escape_line(arena, slice_of(question->by[i]->title)));
}

static bool is_plain(struct slice name)
{
  for (size_t i = 0; i < name.size; i++) {
    char c = name.at[i];
    if (!(c >= 'a' && c <= 'z') && !(c == '_' && i > 0) && !(c >= '0' && c <= '9' && i > 0))
      return false;
  }
  return name.size > 0;
}

/* The functions that the settings file assigns, each to be traced to its pin. */
static void write_pins(const struct sheet *sheet, FILE *out, const struct entry *entry)
{
  const struct vocabulary *vocabulary = sheet->library.vocabulary;
  const struct entry *same = vocabulary_find(vocabulary, SCOPE_TUNE, entry->name);
  const struct value *value =
      same != NULL ? sheet->settings->values[vocabulary_index(vocabulary, SCOPE_TUNE, same)] : NULL;
  size_t written = 0;
  for (size_t i = 0; value != NULL && value->kind == VALUE_PINS && i < value->as.pins.count; i++) {
    struct slice function = value->as.pins.items[i].function;
    if (!is_plain(function))
      continue;
    fprintf(out, "%s    %.*s: unknown\n", written == 0 ? "\n" : "", SLICE_ARG(function));
    written++;
  }
  if (written == 0)
    fputs(" unknown  # {function: pin, ...}\n", out);
}

static void write_choices(FILE *out, const struct entry *entry)
{
  fputs(" unknown  # ", out);
  for (size_t i = 0; i < entry->choice_count; i++)
    fprintf(out, "%s%.*s", i > 0 ? " | " : "", SLICE_ARG(entry->choices[i]));
  fputc('\n', out);
}

static void write_fact(const struct sheet *sheet, FILE *out, const struct entry *entry)
{
  fprintf(out, "  %.*s:", SLICE_ARG(entry->name));
  switch (entry->kind) {
  case VALUE_PINS:
    write_pins(sheet, out, entry);
    return;
  case VALUE_CHOICE:
    write_choices(out, entry);
    return;
  case VALUE_SWITCH:
    fputs(" unknown  # on | off\n", out);
    return;
  case VALUE_LIST:
    fputs(" unknown  # a list of numbers", out);
    break;
  case VALUE_TEXT:
    fputs(" unknown  # a text", out);
    break;
  default:
    fputs(" unknown  # a number", out);
    break;
  }
  write_unit(out, entry->unit);
  fputc('\n', out);
}

static void write_reading(FILE *out, const struct entry *entry)
{
  fprintf(out, "  %.*s:\n    - {", SLICE_ARG(entry->name));
  for (size_t i = 0; i < entry->field_count; i++)
    fprintf(out, "%s%.*s: unknown", i > 0 ? ", " : "", SLICE_ARG(entry->fields[i].name));
  fputs("}  # in", out);
  for (size_t i = 0; i < entry->field_count; i++)
    fprintf(out, "%s %s", i > 0 ? "," : "",
            strcmp(entry->fields[i].unit->name, "1") != 0 ? entry->fields[i].unit->name : "plain numbers");
  fputs("; as many lines as there are readings\n", out);
}

/* The facts, or the readings, in the order of the vocabulary. Returns how many. */
static size_t write_section(const struct sheet *sheet, FILE *out, bool readings)
{
  const struct vocabulary *vocabulary = sheet->library.vocabulary;
  size_t written = 0;
  for (size_t i = 0; i < vocabulary->count[SCOPE_JOB]; i++) {
    const struct entry *entry = &vocabulary->entries[SCOPE_JOB][i];
    if (sheet->questions[i].count == 0 || (entry->kind == VALUE_RECORDS) != readings)
      continue;
    if (written++ == 0)
      fputs(readings ? "readings:\n" : "facts:\n", out);
    write_why(sheet, out, entry, &sheet->questions[i]);
    if (readings)
      write_reading(out, entry);
    else
      write_fact(sheet, out, entry);
  }
  return written;
}

/* The checks by hand of the stage, each with how it is done. */
static void write_checks(const struct sheet *sheet, FILE *out)
{
  struct arena *arena = sheet->run->arena;
  fputs("hand_checks:  # done, or {done: date, by: initials}; `keyway checklist` prints them with their cautions\n",
        out);
  for (size_t i = 0; i < sheet->checklist->count; i++) {
    const struct checklist_item *item = &sheet->checklist->items[i];
    if (!checklist_asks(item, sheet->stage, sheet->library.vocabulary, sheet->settings))
      continue;
    fprintf(out, "  # %s", escape_line(arena, slice_of(item->how)));
    for (size_t k = 0; k < item->caution_count; k++)
      fprintf(out, "%s%s", k == 0 ? " Mind: " : ", ", item->cautions[k]);
    fprintf(out, "\n  %s: unknown\n", item->what);
  }
}

static void sheet_write(const struct sheet *sheet, FILE *out)
{
  fputs("keyway-job: 1\n", out);
  fprintf(out, "# For %s: what its audit at the stage '%s' cannot be decided without. Above each question stand the\n",
          escape_line(sheet->run->arena, sheet->source->name), stage_name(sheet->stage));
  fputs("# rules that ask it. Leave 'unknown' what is not known. A number may have any unit of its kind: \"2.0 L\".\n"
        "title: unknown\n",
        out);
  fprintf(out, "stage: %s\n", stage_name(sheet->stage));
  size_t written = write_section(sheet, out, false) + write_section(sheet, out, true);
  if (written == 0)
    fputs("# No rule asks for anything.\n", out);
  write_checks(sheet, out);
}

/* Dictionary, packs, adapter, settings. */
static bool sheet_read(struct sheet *sheet, const struct line *line, struct outputs *outputs,
                       const struct output_request *output, struct problems *problems)
{
  struct run *run = sheet->run;
  size_t rules_count, count = 0;
  const char *file = line_value(line, OPTION_FOR_SETTINGS), *adapter = line_value(line, OPTION_ADAPTER);
  const char *const *rules = line_values(run->arena, line, OPTION_RULES, &rules_count);
  const char **inputs = ARENA_ARRAY(run->arena, rules_count + 2, const char *);
  struct adapters adapters = {0};
  struct request request = {.output_count = 1, .outputs = output};
  bool read = library_read(run->arena, run->sources, LIBRARY_LEAN, rules, rules_count, &sheet->library, problems);
  if (read)
    sheet->checklist = checklist_read(run, &sheet->library, problems);
  read = sheet->checklist != NULL;
  problems->of = PROBLEM_OF_INPUT;
  if (read) {
    sheet->source = sources_open(run->sources, file, adapter != NULL ? LIMIT_EXPORT_BYTES : LIMIT_YAML_BYTES, problems);
    adapters_open(&adapters, run->sources, adapter, NULL, problems);
  }
  sources_name(run->sources, NULL);
  if (!read || sheet->source == NULL)
    return false;
  adapters_read(&adapters, run->arena, sheet->library.vocabulary, problems);
  sheet->settings = adapters_settings(&adapters, run->arena, sheet->library.vocabulary, sheet->source, NULL, problems);
  adapters_free(&adapters);
  if (sheet->settings == NULL || problems_has(problems, PROBLEM_OF_INPUT))
    return false;
  inputs[count++] = file;
  if (adapter != NULL)
    inputs[count++] = adapter;
  for (size_t i = 0; i < rules_count; i++)
    inputs[count++] = rules[i];
  problems->of = PROBLEM_OF_USAGE;
  return outputs_open(run->arena, &request, inputs, count, outputs, problems);
}

static enum status sheet_make(struct sheet *sheet, const struct line *line, const struct output_request *output,
                              struct problems *problems)
{
  struct run *run = sheet->run;
  struct outputs outputs;
  if (!sheet_read(sheet, line, &outputs, output, problems))
    return command_refuse(run, problems);
  struct subject subject = {.vocabulary = sheet->library.vocabulary, .settings = sheet->settings};
  struct audit_options options = {.stage = sheet->stage, .fail_on = SEVERITY_NONE, .need = 1};
  questions_collect(sheet, audit_run(run->arena, sheet->library.packs, &subject, run->sources, &options, NULL));
  sheet_write(sheet, outputs.items[0].stream);
  const char *why = outputs_commit(run->arena, &outputs);
  if (why == NULL)
    return STATUS_CLEAN;
  fprintf(stderr, "keyway: %s\n", why);
  return STATUS_FAULT;
}

enum status sheet_command(struct run *run, const struct line *line)
{
  struct sheet sheet = {.run = run, .stage = STAGE_LOOK};
  struct problems problems;
  size_t count = 0;
  problems_init(&problems, run->arena, PROBLEM_OF_USAGE);
  const char *const *files = line_values(run->arena, line, OPTION_OUTPUT, &count);
  const char *stage = line_value(line, OPTION_STAGE);
  if (line_value(line, OPTION_FOR_SETTINGS) == NULL)
    problems_add(&problems, PLACE_NONE, "'sheet' needs '--for', the settings file that asks");
  if (stage != NULL && !stage_find(slice_of(stage), &sheet.stage))
    problems_add(&problems, PLACE_NONE, "'--stage' takes %s, not '%s'", line_options[OPTION_STAGE].argument, stage);
  if (count > 1)
    problems_add(&problems, PLACE_NONE, "'--output' was given twice: '%s' and '%s'", files[0], files[1]);
  if (problems_has(&problems, PROBLEM_OF_USAGE))
    return command_refuse(run, &problems);
  struct output_request output = {.file = count > 0 && strcmp(files[0], "-") != 0 ? files[0] : NULL};
  return sheet_make(&sheet, line, &output, &problems);
}
