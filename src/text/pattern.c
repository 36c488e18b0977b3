/* PCRE2 behind a small door. Reading order: pattern_compile (refuses what could lift the bounds, then compiles),
 * pattern_find (is the subject sound UTF-8, one match within the bounds), the accessors.
 *
 * All of PCRE2's memory but its machine code comes from the caller's arena, so that a pattern that is only interpreted
 * needs no freeing. Machine code counts a match's steps more coarsely than the interpreter and knows no depth; its
 * stack of 32 KB can run out on a long subject, which says nothing about the pattern: then the interpreter decides. */
#include "text/pattern.h"

#include "base/limits.h"

#include <stdint.h>

#define PCRE2_CODE_UNIT_WIDTH 8
#include <pcre2.h>

/* What changes with every match; behind a pointer, so that the pattern itself stays constant. */
struct scratch {
  pcre2_match_data *data;
  pcre2_match_context *context;
  size_t *from, *to;
  struct slice sound; /* the last subject that was found to be UTF-8 */
};

struct pattern {
  struct slice text;
  pcre2_code *code;
  size_t group_count; /* with group 0 */
  struct scratch *scratch;
};

static void *take_memory(size_t size, void *arena)
{
  return arena_alloc(arena, size);
}

static void leave_memory(void *at, void *arena)
{
  (void)at;
  (void)arena;
}

static const char *words_of(struct arena *arena, int error)
{
  PCRE2_UCHAR words[256];
  if (pcre2_get_error_message(error, words, sizeof words) < 0)
    return "no reason known";
  return arena_text(arena, slice_of((const char *)words));
}

static struct scratch *scratch_new(struct arena *arena, const struct pattern *pattern, pcre2_general_context *memory)
{
  struct scratch *scratch = ARENA_NEW(arena, struct scratch);
  scratch->data = pcre2_match_data_create((uint32_t)pattern->group_count, memory);
  scratch->context = pcre2_match_context_create(memory);
  pcre2_set_match_limit(scratch->context, LIMIT_PATTERN_STEPS);
  pcre2_set_depth_limit(scratch->context, LIMIT_PATTERN_DEPTH);
  scratch->from = ARENA_ARRAY(arena, pattern->group_count, size_t);
  scratch->to = ARENA_ARRAY(arena, pattern->group_count, size_t);
  return scratch;
}

struct pattern *pattern_compile_plain(struct arena *arena, struct slice text, const char **why, size_t *at)
{
  *at = 0;
  if (text.size > LIMIT_PATTERN_BYTES) {
    *at = LIMIT_PATTERN_BYTES;
    *why = arena_print(arena, "the pattern is %zu bytes long; at most %d are accepted", text.size, LIMIT_PATTERN_BYTES);
    return NULL;
  }
  /* (*LIMIT_MATCH=...), (*NO_JIT) and their like: only the start of a pattern can hold them. */
  if (text.size >= 2 && memcmp(text.at, "(*", 2) == 0) {
    *why = "a pattern cannot start with '(*'";
    return NULL;
  }
  pcre2_general_context *memory = pcre2_general_context_create(take_memory, leave_memory, arena);
  pcre2_compile_context *context = pcre2_compile_context_create(memory);
  struct pattern *pattern = ARENA_NEW(arena, struct pattern);
  int error = 0;
  PCRE2_SIZE offset = 0;
  pattern->text = arena_slice(arena, text);
  pattern->code = pcre2_compile((PCRE2_SPTR)pattern->text.at, text.size, PCRE2_UTF | PCRE2_NEVER_BACKSLASH_C, &error,
                                &offset, context);
  if (pattern->code == NULL) {
    *why = words_of(arena, error);
    *at = offset < text.size ? offset : text.size;
    return NULL;
  }
  uint32_t groups = 0;
  pcre2_pattern_info(pattern->code, PCRE2_INFO_CAPTURECOUNT, &groups);
  pattern->group_count = (size_t)groups + 1;
  pattern->scratch = scratch_new(arena, pattern, memory);
  return pattern;
}

struct pattern *pattern_compile(struct arena *arena, struct slice text, const char **why, size_t *at)
{
  struct pattern *pattern = pattern_compile_plain(arena, text, why, at);
  /* Where the system allows no machine code, the interpreter does it. */
  if (pattern != NULL)
    (void)pcre2_jit_compile(pattern->code, PCRE2_JIT_COMPLETE);
  return pattern;
}

void pattern_free(struct pattern *pattern)
{
  if (pattern == NULL)
    return;
  pcre2_code_free(pattern->code);
  pattern->code = NULL;
}

static bool is_ascii(struct slice text)
{
  unsigned char seen = 0;
  for (size_t i = 0; i < text.size; i++)
    seen |= (unsigned char)text.at[i];
  return seen < 0x80;
}

/* A search that goes on in the same subject must not look through all of it again: a long list split at its commas
 * would take quadratic time. */
static bool is_known_sound(const struct scratch *scratch, struct slice subject, size_t start)
{
  if (start > 0 && scratch->sound.at == subject.at && scratch->sound.size == subject.size)
    return start == subject.size || ((unsigned char)subject.at[start] & 0xC0u) != 0x80u;
  return is_ascii(subject);
}

enum pattern_outcome pattern_find(const struct pattern *pattern, struct slice subject, size_t start,
                                  struct pattern_match *match)
{
  struct scratch *scratch = pattern->scratch;
  *match = (struct pattern_match){pattern->group_count, scratch->from, scratch->to};
  for (size_t i = 0; i < pattern->group_count; i++)
    scratch->from[i] = scratch->to[i] = SIZE_MAX;
  if (subject.at == NULL)
    subject.at = "";
  if (start > subject.size)
    return PATTERN_NO;
  uint32_t options = is_known_sound(scratch, subject, start) ? PCRE2_NO_UTF_CHECK : 0;
  int found =
      pcre2_match(pattern->code, (PCRE2_SPTR)subject.at, subject.size, start, options, scratch->data, scratch->context);
  if (found == PCRE2_ERROR_JIT_STACKLIMIT)
    found = pcre2_match(pattern->code, (PCRE2_SPTR)subject.at, subject.size, start, options | PCRE2_NO_JIT,
                        scratch->data, scratch->context);
  /* From `start` on is all that PCRE2 looked at. */
  bool sound = options != 0 || (start == 0 && found >= PCRE2_ERROR_NOMATCH);
  scratch->sound = sound ? subject : (struct slice){NULL, 0};
  if (found == PCRE2_ERROR_MATCHLIMIT || found == PCRE2_ERROR_DEPTHLIMIT || found == PCRE2_ERROR_HEAPLIMIT ||
      found == PCRE2_ERROR_NOMEMORY || found == PCRE2_ERROR_RECURSELOOP)
    return PATTERN_TOO_COSTLY;
  if (found < 0)
    return PATTERN_NO;
  const PCRE2_SIZE *spans = pcre2_get_ovector_pointer(scratch->data);
  for (size_t i = 0; i < (size_t)found && i < pattern->group_count; i++) {
    scratch->from[i] = spans[2 * i];
    scratch->to[i] = spans[2 * i + 1];
  }
  return PATTERN_YES;
}

size_t pattern_group(const struct pattern *pattern, const char *name)
{
  int group = pcre2_substring_number_from_name(pattern->code, (PCRE2_SPTR)name);
  return group > 0 ? (size_t)group : 0;
}

struct slice pattern_part(const struct pattern_match *match, struct slice subject, size_t group)
{
  if (group >= match->group_count || match->from[group] == SIZE_MAX || match->to[group] < match->from[group])
    return (struct slice){"", 0};
  return slice_part(subject, match->from[group], match->to[group]);
}

struct slice pattern_text(const struct pattern *pattern)
{
  return pattern->text;
}
