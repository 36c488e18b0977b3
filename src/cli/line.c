/* The command line. The two catalogues are made from the rows of command.def and option.def; line_read walks argv once:
 * the command comes first, then options and arguments in any order, `--` ends the options. */
#include "cli/line.h"

const struct command line_commands[COMMAND_COUNT] = {
#define COMMAND(id, name, arguments, least, most, about) {name, arguments, least, most, about},
#include "cli/command.def"
#undef COMMAND
};

#define FOR(id) (1u << COMMAND_##id)
const struct option line_options[OPTION_COUNT] = {
#define OPTION(id, name, argument, commands, repeat, help) {name, argument, commands, repeat, help},
#include "cli/option.def"
#undef OPTION
};
#undef FOR

struct reader {
  struct arena *arena;
  struct problems *problems;
  char *const *argv;
  int argc, at;
  struct line_given *given;
  size_t given_count, given_room;
  const char **arguments;
  size_t argument_count, argument_room;
};

/* Near enough to be meant: a third of the length in edits, at least one. */
static bool is_near(struct slice wanted, size_t distance)
{
  size_t most = wanted.size / 3 > 1 ? wanted.size / 3 : 1;
  return distance <= most;
}

enum command_id line_command(const char *name, struct problems *problems)
{
  size_t nearest = COMMAND_COUNT, least = (size_t)-1;
  for (size_t i = 0; i < COMMAND_COUNT; i++) {
    if (strcmp(line_commands[i].name, name) == 0)
      return (enum command_id)i;
    size_t distance = slice_distance(slice_of(line_commands[i].name), slice_of(name));
    if (distance < least) {
      least = distance;
      nearest = i;
    }
  }
  problems_add(problems, PLACE_NONE, "unknown command '%s'", name);
  if (is_near(slice_of(name), least))
    problems_hint(problems, "did you mean '%s'?", line_commands[nearest].name);
  else
    problems_hint(problems, "'keyway help' names the commands");
  return COMMAND_COUNT;
}

static bool takes(enum command_id command, size_t option)
{
  return (line_options[option].commands >> command & 1u) != 0;
}

static bool refuse_option(struct reader *reader, enum command_id command, struct slice name, size_t found)
{
  const char *called = line_commands[command].name;
  if (found < OPTION_COUNT) {
    problems_add(reader->problems, PLACE_NONE, "'%s' takes no option '--%s'", called, line_options[found].name);
    return false;
  }
  problems_add(reader->problems, PLACE_NONE, "unknown option '--%.*s'", SLICE_ARG(name));
  size_t nearest = OPTION_COUNT, least = (size_t)-1;
  for (size_t i = 0; i < OPTION_COUNT; i++) {
    size_t distance = slice_distance(slice_of(line_options[i].name), name);
    if (takes(command, i) && distance < least) {
      least = distance;
      nearest = i;
    }
  }
  if (nearest < OPTION_COUNT && is_near(name, least))
    problems_hint(reader->problems, "did you mean '--%s'?", line_options[nearest].name);
  else
    problems_hint(reader->problems, "'keyway help %s' names its options", called);
  return false;
}

static bool was_given(const struct reader *reader, size_t id)
{
  for (size_t i = 0; i < reader->given_count; i++) {
    if (reader->given[i].id == (enum option_id)id)
      return true;
  }
  return false;
}

/* The value behind "=" or in the next argument; NULL and a problem when there is none. */
static const char *value_take(struct reader *reader, const struct option *option, const char *equals)
{
  const char *value = equals != NULL ? equals + 1 : NULL;
  if (equals == NULL && reader->at < reader->argc) {
    value = reader->argv[reader->at];
    /* "--log --job sheet.yaml" would otherwise eat the next option in silence. */
    if (strncmp(value, "--", 2) == 0)
      value = NULL;
    else
      reader->at++;
  }
  if (value != NULL && value[0] != '\0')
    return value;
  problems_add(reader->problems, PLACE_NONE, "'--%s' needs a value: %s", option->name, option->argument);
  return NULL;
}

static void option_take(struct reader *reader, enum command_id command, const char *text)
{
  const char *equals = strchr(text, '=');
  struct slice name = {text, equals != NULL ? (size_t)(equals - text) : strlen(text)};
  size_t id = 0, other = OPTION_COUNT;
  for (; id < OPTION_COUNT; id++) {
    bool same = slice_is(name, line_options[id].name);
    if (same && takes(command, id))
      break;
    other = same ? id : other;
  }
  if (id == OPTION_COUNT) {
    refuse_option(reader, command, name, other);
    return;
  }
  const struct option *option = &line_options[id];
  const char *value = NULL;
  if (option->argument == NULL && equals != NULL) {
    problems_add(reader->problems, PLACE_NONE, "'--%s' takes no value", option->name);
    return;
  }
  if (option->argument != NULL && (value = value_take(reader, option, equals)) == NULL)
    return;
  if (!option->repeat && was_given(reader, id)) {
    problems_add(reader->problems, PLACE_NONE, "'--%s' was given twice", option->name);
    return;
  }
  reader->given =
      arena_grow(reader->arena, reader->given, reader->given_count, &reader->given_room, sizeof *reader->given);
  reader->given[reader->given_count++] = (struct line_given){(enum option_id)id, value};
}

static void argument_take(struct reader *reader, const char *text)
{
  reader->arguments = arena_grow(reader->arena, reader->arguments, reader->argument_count, &reader->argument_room,
                                 sizeof *reader->arguments);
  reader->arguments[reader->argument_count++] = text;
}

static void words_take(struct reader *reader, enum command_id command)
{
  bool ended = false;
  while (reader->at < reader->argc) {
    const char *word = reader->argv[reader->at++];
    if (!ended && strcmp(word, "--") == 0) {
      ended = true;
    } else if (!ended && strncmp(word, "--", 2) == 0) {
      option_take(reader, command, word + 2);
    } else if (!ended && word[0] == '-' && word[1] != '\0') {
      problems_add(reader->problems, PLACE_NONE, "unknown option '%s'", word);
      problems_hint(reader->problems, "options begin with two dashes; a file named so goes behind '--'");
    } else {
      argument_take(reader, word);
    }
  }
}

static void count_check(const struct reader *reader, enum command_id command)
{
  const struct command *row = &line_commands[command];
  size_t count = reader->argument_count;
  if (count >= row->least && count <= row->most)
    return;
  if (count < row->least)
    problems_add(reader->problems, PLACE_NONE, "'%s' needs %s", row->name, row->arguments);
  else if (row->most == 0)
    problems_add(reader->problems, PLACE_NONE, "'%s' takes no argument, and was given '%s'", row->name,
                 reader->arguments[0]);
  else
    problems_add(reader->problems, PLACE_NONE, "'%s' takes %s, and was given '%s' as well", row->name, row->arguments,
                 reader->arguments[row->most]);
  problems_hint(reader->problems, "see 'keyway help %s'", row->name);
}

bool line_read(struct arena *arena, int argc, char *const *argv, struct line *out, struct problems *problems)
{
  *out = (struct line){.command = COMMAND_HELP};
  if (argc < 2) {
    problems_add(problems, PLACE_NONE, "no command was given");
    problems_hint(problems, "'keyway help' names them; 'keyway audit SETTINGS' audits a settings file");
    return false;
  }
  if (argc == 2 && strcmp(argv[1], "--version") == 0) {
    out->version = true;
    return true;
  }
  if (strcmp(argv[1], "--help") == 0)
    return true;
  if (argv[1][0] == '-') {
    problems_add(problems, PLACE_NONE, "the command comes first, and '%s' is none", argv[1]);
    problems_hint(problems, "'keyway help' names the commands");
    return false;
  }
  out->command = line_command(argv[1], problems);
  if (out->command == COMMAND_COUNT)
    return false;
  struct reader reader = {.arena = arena, .problems = problems, .argv = argv, .argc = argc, .at = 2};
  words_take(&reader, out->command);
  out->given_count = reader.given_count;
  out->given = reader.given;
  if (was_given(&reader, OPTION_HELP)) {
    const char **name = ARENA_NEW(arena, const char *);
    *name = line_commands[out->command].name;
    out->command = COMMAND_HELP;
    out->arguments = name;
    out->argument_count = 1;
    return true;
  }
  count_check(&reader, out->command);
  out->argument_count = reader.argument_count;
  out->arguments = reader.arguments;
  return !problems_has(problems, PROBLEM_OF_USAGE);
}

const char *line_value(const struct line *line, enum option_id id)
{
  const char *value = NULL;
  for (size_t i = 0; i < line->given_count; i++) {
    if (line->given[i].id == id)
      value = line->given[i].value != NULL ? line->given[i].value : "";
  }
  return value;
}

const char *const *line_values(struct arena *arena, const struct line *line, enum option_id id, size_t *count)
{
  const char **values = ARENA_ARRAY(arena, line->given_count, const char *);
  *count = 0;
  for (size_t i = 0; i < line->given_count; i++) {
    if (line->given[i].id == id)
      values[(*count)++] = line->given[i].value;
  }
  return values;
}
