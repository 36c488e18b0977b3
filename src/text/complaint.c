/* libyaml says where its grammar stopped ("did not find expected key"); a person wants to know which slip of the pen
 * does that. Reading order: the table `says` gives the words for each of libyaml's, `guess` looks at the text around
 * the place for the slips that cause most of them, complaint_add puts the two together. */
#include "text/complaint.h"

#include <stdint.h>

enum slip_place { AT_STOP, AT_START };

struct saying {
  const char *problem; /* libyaml 0.2.5 */
  enum slip_place where;
  const char *message;
  const char *hint;
};

static const struct saying says[] = {
    {"found unexpected end of stream", AT_START, "this quote is never closed", "close it with the same quote sign"},
    {"found unexpected document indicator", AT_START, "this quote is not closed before the next '---' or '...'",
     "close it with the same quote sign"},
    {"found unknown escape character", AT_STOP, "a backslash here starts an escape that does not exist",
     "use 'single quotes': there a backslash is plain text"},
    {"did not find expected hexdecimal number", AT_STOP, "this escape needs hexadecimal digits",
     "use 'single quotes': there a backslash is plain text"},
    {"found invalid Unicode character escape code", AT_STOP, "this escape names no character",
     "use 'single quotes': there a backslash is plain text"},
    {"did not find expected ',' or ']'", AT_STOP, "a comma or the closing ']' of the list is missing here", NULL},
    {"did not find expected ',' or '}'", AT_STOP, "a comma or the closing '}' is missing here", NULL},
    {"did not find expected node content", AT_STOP, "a value is missing here", NULL},
    {"did not find expected key", AT_STOP, "a name and a colon are expected here",
     "names on the same level start in the same column; text that goes on after a closing quote or bracket "
     "needs quotes around all of it"},
    {"did not find expected '-' indicator", AT_STOP, "the next '-' of the list is expected here",
     "items of a list start in the same column"},
    {"could not find expected ':'", AT_START, "this line has no colon after its name",
     "write 'name: value', with a blank after the colon"},
    {"mapping values are not allowed in this context", AT_STOP, "a colon is not expected here",
     "text that holds ': ' needs quotes; names on the same level start in the same column"},
    {"mapping keys are not allowed in this context", AT_STOP, "a lone '?' is not expected here",
     "write the word unknown, or '?' in quotes"},
    {"block sequence entries are not allowed in this context", AT_STOP, "the '-' of a list item is not expected here",
     "start the list on a line of its own, or write it as [a, b, c]"},
    {"found character that cannot start any token", AT_STOP, "a value cannot start with this sign",
     "put quotes around the text"},
    {"did not find expected alphabetic or numeric character", AT_START, "a value cannot start with this sign",
     "put quotes around the text"},
    {"did not find expected comment or line break", AT_STOP, "nothing but a comment may follow '|' or '>' on its line",
     "text that starts with '|' or '>' needs quotes"},
    {"found a tab character where an indentation space is expected", AT_STOP, "a tab is used for indentation",
     "indent with blanks"},
    {"found a tab character that violates indentation", AT_STOP, "a tab is used for indentation", "indent with blanks"},
    {"did not find expected <document start>", AT_STOP, "this cannot follow what ended before it",
     "names on the same level start in the same column"},
};

static struct slice line_around(struct slice bytes, size_t at)
{
  size_t from = at, to = at;
  while (from > 0 && bytes.at[from - 1] != '\n' && bytes.at[from - 1] != '\r')
    from--;
  while (to < bytes.size && bytes.at[to] != '\n' && bytes.at[to] != '\r')
    to++;
  return slice_part(bytes, from, to);
}

size_t complaint_line(struct slice bytes, size_t at)
{
  size_t line = 1;
  for (const char *from = bytes.at; at > 0;) {
    const char *found = memchr(from, '\n', (size_t)(bytes.at + at - from));
    if (found == NULL)
      break;
    line++;
    from = found + 1;
  }
  return line;
}

static bool is_name(char c)
{
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '.';
}

/* The colon of "name:value": an offset within the line, 0 for none. */
static size_t glued_colon(struct slice line)
{
  size_t at = 0;
  while (at < line.size && (line.at[at] == ' ' || line.at[at] == '-' || line.at[at] == '{'))
    at++;
  size_t start = at;
  while (at < line.size && is_name(line.at[at]))
    at++;
  bool glued = at > start && at + 1 < line.size && line.at[at] == ':' && line.at[at + 1] != ' ' &&
               line.at[at + 1] != '\t' && line.at[at + 1] != '/';
  return glued ? at : 0;
}

static bool starts_with_tab(struct slice line)
{
  size_t at = 0;
  while (at < line.size && line.at[at] == ' ')
    at++;
  return at < line.size && line.at[at] == '\t';
}

static struct place place_of(const struct source *source, size_t from, size_t to)
{
  return (struct place){source->id, from, to};
}

/* Slips that show in the text itself, whatever libyaml called them. */
static bool guess(const struct complaint *complaint, const struct source *source, struct problems *problems)
{
  struct slice bytes = source->bytes;
  struct slice line = line_around(bytes, complaint->at);
  size_t start = (size_t)(line.at - bytes.at);
  if (starts_with_tab(line)) {
    size_t tab = start + (size_t)((const char *)memchr(line.at, '\t', line.size) - line.at);
    problems_add(problems, place_of(source, tab, tab + 1), "a tab is used for indentation");
    problems_hint(problems, "indent with blanks");
    return true;
  }
  struct slice before = start > 0 ? line_around(bytes, start - 1) : line;
  struct slice first = complaint->from < bytes.size ? line_around(bytes, complaint->from) : line;
  struct slice suspects[] = {first, before, line};
  for (size_t i = 0; i < sizeof suspects / sizeof *suspects; i++) {
    size_t colon = glued_colon(suspects[i]);
    if (colon > 0) {
      size_t at = (size_t)(suspects[i].at - bytes.at) + colon;
      problems_add(problems, place_of(source, at, at + 1), "a blank is missing after this colon");
      problems_hint(problems, "write 'name: value'");
      return true;
    }
  }
  return false;
}

static const struct saying *saying_find(const char *problem)
{
  for (size_t i = 0; problem != NULL && i < sizeof says / sizeof *says; i++) {
    if (strcmp(says[i].problem, problem) == 0)
      return &says[i];
  }
  return NULL;
}

/* At the end of the file there is nothing to point at but what was opened and not closed. */
static bool is_after_text(struct slice bytes, size_t at)
{
  while (at < bytes.size && strchr(" \t\r\n", bytes.at[at]) != NULL)
    at++;
  return at >= bytes.size;
}

void complaint_add(const struct complaint *complaint, const struct source *source, struct problems *problems)
{
  struct slice bytes = source->bytes;
  const struct saying *saying = saying_find(complaint->problem);
  bool in_quote = complaint->context != NULL && strstr(complaint->context, "quoted scalar") != NULL;
  if (!in_quote && guess(complaint, source, problems))
    return;
  bool has_start = complaint->from < bytes.size;
  bool in_flow = complaint->context != NULL && strstr(complaint->context, "flow") != NULL;
  size_t at = complaint->at;
  if (in_flow && has_start && is_after_text(bytes, at)) {
    size_t from = complaint->from;
    problems_add(problems, place_of(source, from, from + 1), "this '%c' is never closed", bytes.at[from]);
    problems_hint(problems, "close it with '%c'", bytes.at[from] == '{' ? '}' : ']');
    return;
  }
  if (saying != NULL && saying->where == AT_START && has_start)
    at = complaint->from;
  size_t end = at;
  if (saying != NULL && saying->where == AT_START && !in_quote) {
    struct slice line = line_around(bytes, at);
    end = (size_t)(line.at - bytes.at) + line.size;
  } else if (at < bytes.size && bytes.at[at] != '\n' && bytes.at[at] != '\r') {
    end = at + 1;
  }
  if (saying == NULL) {
    problems_add(problems, place_of(source, at, end), "this is not YAML: %s",
                 complaint->problem == NULL ? "no reason known" : complaint->problem);
    return;
  }
  problems_add(problems, place_of(source, at, end), "%s", saying->message);
  if (in_flow && has_start && strchr("[{", bytes.at[complaint->from]) != NULL)
    problems_hint(problems, "the '%c' that is open here is in line %zu", bytes.at[complaint->from],
                  complaint_line(bytes, complaint->from));
  else if (in_flow && has_start && bytes.at[complaint->from] == '?')
    problems_hint(problems, "write the word unknown, or '?' in quotes");
  else if (at < bytes.size && bytes.at[at] == '-')
    problems_hint(problems, "items of a list start in the same column");
  else if (saying->hint != NULL)
    problems_hint(problems, "%s", saying->hint);
}
