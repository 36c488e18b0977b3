/* Order of findings and evidence, and the identity of a finding. */
#include "findings/finding.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct evidence evidence_at(uint32_t source, uint64_t start)
{
  return (struct evidence){.place = {source, start, start + 1}, .text = ""};
}

static struct finding finding_of(enum severity severity, const struct evidence *evidence, const char *id,
                                 const char *subject)
{
  return (struct finding){.id = id,
                          .severity = severity,
                          .subject = subject,
                          .evidence = evidence,
                          .evidence_count = evidence == NULL ? 0 : 1};
}

/* Every pair of neighbours differs in one thing only, in the order that findings_sort promises. */
static void test_findings_order(void **state)
{
  (void)state;
  struct evidence early = evidence_at(1, 10), late = evidence_at(1, 20), other = evidence_at(2, 0);
  struct finding first = finding_of(SEVERITY_NOTE, &other, "z", "s");
  first.first = true;
  const struct finding wanted[] = {first,
                                   finding_of(SEVERITY_STOP, &other, "z", "s"),
                                   finding_of(SEVERITY_FIX, NULL, "z", "s"),
                                   finding_of(SEVERITY_FIX, &early, "b", "s"),
                                   finding_of(SEVERITY_FIX, &late, "a", "s"),
                                   finding_of(SEVERITY_FIX, &late, "b", "s"),
                                   finding_of(SEVERITY_FIX, &late, "b", "t"),
                                   finding_of(SEVERITY_FIX, &other, "a", "s"),
                                   finding_of(SEVERITY_CHECK, &early, "a", "s"),
                                   finding_of(SEVERITY_NOTE, &early, "a", "s")};
  enum { COUNT = sizeof wanted / sizeof wanted[0] };
  /* Every rotation, forwards and backwards, comes to the same order. */
  for (size_t turn = 0; turn < 2 * (size_t)COUNT; turn++) {
    struct finding mixed[COUNT];
    for (size_t i = 0; i < COUNT; i++)
      mixed[i] = wanted[turn < COUNT ? (i + turn) % COUNT : (2 * (size_t)COUNT - 1 - i + turn) % COUNT];
    findings_sort(mixed, COUNT);
    for (size_t i = 0; i < COUNT; i++) {
      assert_int_equal(mixed[i].severity, wanted[i].severity);
      assert_ptr_equal(mixed[i].evidence, wanted[i].evidence);
      assert_string_equal(mixed[i].id, wanted[i].id);
      assert_string_equal(mixed[i].subject, wanted[i].subject);
    }
  }
}

static void test_evidence_worst_first(void **state)
{
  (void)state;
  struct evidence items[4];
  for (size_t i = 0; i < 4; i++)
    items[i] = evidence_at(1, 40 - 10 * i);
  items[0].excess = 1.0;
  items[1].excess = 3.0;
  items[2].excess = 1.0;
  items[3].excess = -2.0;
  evidence_sort(items, 4);
  const uint64_t wanted[] = {30, 20, 40, 10};
  for (size_t i = 0; i < 4; i++)
    assert_int_equal(items[i].place.start, wanted[i]);
  evidence_sort(NULL, 0);
}

static struct quantity kelvin(double value)
{
  return (struct quantity){value, NULL};
}

static struct finding warm_up(struct evidence *evidence, size_t count)
{
  return (struct finding){
      .id = "warmup", .subject = "tune.fuel.warm_up_enrichment", .evidence = evidence, .evidence_count = count};
}

/* The hashes were computed by an independent FNV-1a (64 bits) that gives the published 85944171f73967e8 for "foobar"
 * (Fowler, Noll, Vo: test vectors). */
static void test_identity_hash(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct evidence places[] = {{.has_x = true, .x = kelvin(353.15)}, {.has_x = true, .x = kelvin(363.15)}};
  struct finding finding = warm_up(places, 2);
  assert_string_equal(finding_identity(arena, &finding), "c76f0ca1d2164a39");
  finding.evidence_count = 0;
  assert_string_equal(finding_identity(arena, &finding), "e0a50fc4f074f5a0");
  arena_free(arena);
}

/* Reformatting the file, other measured values and so another order, and the rounding of a unit leave it alone; another
 * axis value does not. */
static void test_identity_survives(void **state)
{
  (void)state;
  struct arena *arena = arena_new();
  struct evidence a[] = {{.has_x = true, .x = kelvin(353.15), .place = {1, 5, 9}},
                         {.has_x = true, .x = kelvin(363.15), .has_y = true, .y = kelvin(1e5)}};
  struct evidence b[] = {{.has_x = true, .x = kelvin(363.15), .has_y = true, .y = kelvin(1e5), .excess = 7.0},
                         {.has_x = true, .x = kelvin(353.15000000000003), .place = {3, 70, 71}, .text = "elsewhere"}};
  struct finding one = warm_up(a, 2), two = warm_up(b, 2);
  const char *identity = finding_identity(arena, &one);
  assert_int_equal(strlen(identity), 16);
  assert_string_equal(identity, finding_identity(arena, &two));
  b[1].x.value = 354.15;
  assert_string_not_equal(identity, finding_identity(arena, &two));
  two = one;
  two.subject = "tune.fuel.warm_up_enrichmen";
  assert_string_not_equal(identity, finding_identity(arena, &two));
  /* "ab" on "c" is not "a" on "bc". */
  struct finding ab = {.id = "ab", .subject = "c"}, bc = {.id = "a", .subject = "bc"};
  assert_string_not_equal(finding_identity(arena, &ab), finding_identity(arena, &bc));
  arena_free(arena);
}

static void test_verdict_names(void **state)
{
  (void)state;
  assert_string_equal(verdict_name(VERDICT_FLAGGED), "flagged");
  assert_string_equal(verdict_name(VERDICT_CLEAR), "clear");
  assert_string_equal(verdict_name(VERDICT_UNDECIDED), "undecided");
  assert_string_equal(verdict_name(VERDICT_NOT_APPLICABLE), "not_applicable");
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_findings_order), cmocka_unit_test(test_evidence_worst_first),
      cmocka_unit_test(test_identity_hash),  cmocka_unit_test(test_identity_survives),
      cmocka_unit_test(test_verdict_names),
  };
  return cmocka_run_group_tests_name("findings/finding", tests, NULL, NULL);
}
