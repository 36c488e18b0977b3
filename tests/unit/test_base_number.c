/* Numbers to and from text, against the C library's strtod and printf (glibc rounds both correctly). */
#include "base/number.h"
#include "base/number_short.h"

#include <float.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

enum { RANDOM_NUMBERS = 100000 };

/* xorshift64, Marsaglia 2003; a fixed start, so that a failure can be repeated. */
static uint64_t next_random(uint64_t *state)
{
  *state ^= *state << 13;
  *state ^= *state >> 7;
  *state ^= *state << 17;
  return *state;
}

static bool same_bits(double a, double b)
{
  return memcmp(&a, &b, sizeof a) == 0;
}

static void check_as_strtod(const char *text)
{
  double got = -1.0, want = strtod(text, NULL);
  size_t used = number_read(slice_of(text), '.', &got);
  if (isinf(want)) {
    assert_int_equal(used, 0);
    return;
  }
  if (used != strlen(text) || !same_bits(got, want))
    fail_msg("%s: used %zu, got %.17g, strtod %.17g", text, used, got, want);
}

static void random_doubles_go_round(void **state)
{
  (void)state;
  uint64_t random = 88172645463325252u;
  int ran = 0;
  for (int i = 0; i < RANDOM_NUMBERS; i++) {
    uint64_t bits = next_random(&random);
    double value;
    memcpy(&value, &bits, sizeof value);
    if (!isfinite(value))
      continue;
    char text[64];
    snprintf(text, sizeof text, "%.17g", value);
    check_as_strtod(text);
    size_t size = number_print(text, sizeof text, value, 17);
    assert_int_equal(size, strlen(text));
    assert_true(same_bits(strtod(text, NULL), value == 0 ? 0.0 : value));
    ran++;
  }
  assert_true(ran > RANDOM_NUMBERS / 2);
}

static void random_decimals_read_as_strtod(void **state)
{
  (void)state;
  uint64_t random = 2463534242u;
  for (int i = 0; i < RANDOM_NUMBERS; i++) {
    char text[96];
    size_t n = 0, whole = next_random(&random) % 24, part = next_random(&random) % 24;
    if (next_random(&random) % 3 == 0)
      text[n++] = '-';
    for (size_t k = 0; k < whole; k++)
      text[n++] = (char)('0' + next_random(&random) % 10);
    text[n++] = '.';
    for (size_t k = 0; k < part + (whole == 0); k++)
      text[n++] = (char)('0' + next_random(&random) % 10);
    text[n] = '\0';
    if (next_random(&random) % 2 == 0)
      snprintf(text + n, sizeof text - n, "e%d", (int)(next_random(&random) % 700) - 350);
    check_as_strtod(text);
  }
}

static void random_prints_round_as_printf(void **state)
{
  (void)state;
  uint64_t random = 123456789u;
  for (int i = 0; i < RANDOM_NUMBERS; i++) {
    double value = ((double)next_random(&random) / 1e19 - 0.9) * pow(10, (double)(next_random(&random) % 20) - 8);
    int digits = (int)(next_random(&random) % 17) + 1;
    char ours[64], theirs[64];
    number_print(ours, sizeof ours, value, digits);
    snprintf(theirs, sizeof theirs, "%.*e", digits - 1, value);
    assert_true(same_bits(strtod(ours, NULL), strtod(theirs, NULL)));
    /* No trailing zero behind a point, no point at the end. */
    size_t mantissa = strcspn(ours, "e");
    if (memchr(ours, '.', mantissa) != NULL)
      assert_in_range(ours[mantissa - 1], '1', '9');
  }
}

static void hard_cases_read_as_strtod(void **state)
{
  (void)state;
  /* Ends of the range, half-way cases, and ends of the fast path. */
  const char *const cases[] = {
      "0",
      "-0",
      "0.0e999999999",
      "1e22",
      "1e23",
      "9007199254740992",
      "9007199254740993",
      "9007199254740993e22",
      "9007199254740995",
      "8.5e-323",
      "4.9406564584124654e-324",
      "2.4703282292062327e-324",
      "2.4703282292062328e-324",
      "2.2250738585072011e-308",
      "2.2250738585072014e-308",
      "1.7976931348623157e308",
      "1.7976931348623158e308",
      "1.7976931348623159e308",
      "1e308",
      "1e309",
      "1e-400",
      "123456789012345678901234567890",
      "0.1",
      "+.5",
      "5.",
      "0.500000000000000166533453693773481063544750213623046875",
      "3.141592653589793238462643383279502884197",
      "1e99999999999999999999",
      "1e-99999999999999999999",
      "0000000000000000000000000000000000001.50000",
      "0.00000000000000000000000000000000000000000000000000000000000000000000000012345678901234567890123"};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
    check_as_strtod(cases[i]);
}

/* 1 + 2^-53 lies half-way between 1 and the next double: 53 decimals. Digits far behind decide. */
static void digits_far_behind_decide(void **state)
{
  (void)state;
  const char *half = "1.00000000000000011102230246251565404236316680908203125";
  size_t at = strlen(half);
  char *text = malloc(4000);
  assert_non_null(text);
  for (size_t zeros = 0; zeros < 3000; zeros += 250) {
    memcpy(text, half, at);
    memset(text + at, '0', zeros);
    text[at + zeros] = '\0';
    check_as_strtod(text);
    text[at + zeros] = '1';
    text[at + zeros + 1] = '\0';
    check_as_strtod(text);
    double value = 0;
    assert_int_equal(number_read(slice_of(text), '.', &value), at + zeros + 1);
    assert_true(value > 1.0);
  }
  /* A great many digits with an exponent that takes them back. */
  memset(text, '0', 4000);
  memcpy(text, "0.", 2);
  strcpy(text + 3000, "15e2999");
  check_as_strtod(text);
  free(text);
}

static void reading_stops_where_the_number_ends(void **state)
{
  (void)state;
  const struct {
    const char *text;
    char point;
    size_t used;
    double value;
  } cases[] = {
      {"10 deg", '.', 2, 10}, {"170degF", '.', 3, 170}, {"5e", '.', 1, 5},     {"5e+", '.', 1, 5},
      {"5eV", '.', 1, 5},     {"1.5.2", '.', 3, 1.5},   {"1,5", '.', 1, 1},    {"1,5", ',', 3, 1.5},
      {"1.5", ',', 1, 1},     {"0x10", '.', 1, 0},      {"", '.', 0, -1},      {".", '.', 0, -1},
      {"-", '.', 0, -1},      {"-.e5", '.', 0, -1},     {" 5", '.', 0, -1},    {"inf", '.', 0, -1},
      {"nan", '.', 0, -1},    {"--5", '.', 0, -1},      {"1e999", '.', 0, -1}, {"12", '.', 2, 12},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    double value = -1;
    assert_int_equal(number_read(slice_of(cases[i].text), cases[i].point, &value), cases[i].used);
    assert_true(value == cases[i].value);
  }
  double value = -1;
  assert_int_equal(number_read((struct slice){NULL, 0}, '.', &value), 0);
  /* Not one byte past the slice. */
  assert_int_equal(number_read((struct slice){"123", 2}, '.', &value), 2);
  assert_true(value == 12);
}

static void printing_is_plain_in_the_middle(void **state)
{
  (void)state;
  const struct {
    double value;
    int digits;
    const char *text;
  } cases[] = {
      {0, 6, "0"},
      {-0.0, 6, "0"},
      {14.7, 6, "14.7"},
      {100, 6, "100"},
      {-12.5, 6, "-12.5"},
      {0.1, 17, "0.10000000000000001"},
      {0.1, 15, "0.1"},
      {12345, 3, "12300"},
      {0.0001, 6, "0.0001"},
      {0.00009999, 6, "9.999e-5"},
      {0.000099999999, 6, "0.0001"},
      {999999999, 9, "999999999"},
      {1e9, 6, "1e9"},
      {999999.5, 6, "1000000"},
      {123456789, 9, "123456789"},
      {1.5e-7, 6, "1.5e-7"},
      {-2.5e12, 6, "-2.5e12"},
      {DBL_MAX, 17, "1.7976931348623157e308"},
      {INFINITY, 6, "inf"},
      {-INFINITY, 6, "-inf"},
      {NAN, 6, "nan"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    char text[32];
    assert_int_equal(number_print(text, sizeof text, cases[i].value, cases[i].digits), strlen(cases[i].text));
    assert_string_equal(text, cases[i].text);
  }
}

/* What the short way takes is the whole text, and strtod's value; plain decimals of up to 15 characters it always
 * takes. */
static void short_numbers_as_strtod(void **state)
{
  (void)state;
  static const char usual[] = "0123456789", rare[] = ".-+eE, x/:\0\377";
  uint64_t random = 88172645463325252u;
  size_t taken = 0;
  for (int run = 0; run < 20 * RANDOM_NUMBERS; run++) {
    char room[64];
    char *text = room + NUMBER_SHORT_PAD + 8;
    memset(room, '7', sizeof room);
    uint64_t dice = next_random(&random);
    size_t size = dice % 19, point = dice >> 8 & 31;
    bool plain = size > 0 && size <= 15 && !(size == 1 && point == 0), is_rare = (dice >> 16 & 3) == 0;
    for (size_t i = 0; i < size; i++) {
      uint64_t next = next_random(&random);
      text[i] = is_rare && next % 7 == 0 ? rare[(next >> 8) % (sizeof rare - 1)] : usual[(next >> 8) % 10];
    }
    if (point < size)
      text[point] = '.';
    if ((dice >> 20 & 3) == 0 && size > 1 && point != 0 && !(size == 2 && point == 1))
      text[0] = '-';
    char copy[32] = {0};
    int64_t mantissa = 0;
    uint8_t decimals = 0;
    bool good = number_short(text, text + size, '.', &mantissa, &decimals);
    memcpy(copy, text, size);
    assert_true(good || !plain || is_rare);
    if (!good)
      continue;
    taken++;
    char *end;
    double want = strtod(copy, &end), got = (double)mantissa / pow(10, decimals);
    assert_int_equal(end - copy, size);
    assert_true(got == want);
  }
  assert_true(taken > RANDOM_NUMBERS);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(short_numbers_as_strtod),
      cmocka_unit_test(random_doubles_go_round),
      cmocka_unit_test(random_decimals_read_as_strtod),
      cmocka_unit_test(random_prints_round_as_printf),
      cmocka_unit_test(hard_cases_read_as_strtod),
      cmocka_unit_test(digits_far_behind_decide),
      cmocka_unit_test(reading_stops_where_the_number_ends),
      cmocka_unit_test(printing_is_plain_in_the_middle),
  };
  return cmocka_run_group_tests_name("base number", tests, NULL, NULL);
}
