/* Properties that a wrong rule breaks although each of its own cases holds: other units say the same, a fact left out
 * never makes a rule clear, a limit moved out of the way never finds more, a log told in another way gives the same
 * verdicts, and readings that move by so much move what is measured by so much. */
#include "faults_proof.h"

#include <math.h>
#include <string.h>

enum { OTHER_FACTS = 11 }; /* of the facts that a rule does not read, one in so many is left out */

static void broken(struct proof *proof, const char *what, uint64_t seed, const char *rule, const char *detail)
{
  proof->count.wrong++;
  fprintf(proof->lines, "%s: seed %llu, %s%s%s\n", what, (unsigned long long)seed, rule, *detail == '\0' ? "" : ", ",
          detail);
}

void again_in_units(struct proof *proof, json_t *one, json_t *other, uint64_t seed)
{
  json_t *rules = json_object_get(one, "findings"), *clear = json_object_get(one, "clear");
  size_t before = json_array_size(rules), after = json_array_size(json_object_get(other, "findings"));

  for (size_t i = 0; i < before; i++) {
    const char *rule = text(json_array_get(rules, i), "rule");

    if (places_of(one, rule) != places_of(other, rule))
      broken(proof, "other units, other places", seed, rule, "");
  }
  for (size_t i = 0; i < json_array_size(clear); i++)
    if (!is_clear(other, json_string_value(json_array_get(clear, i))))
      broken(proof, "clear in one set of units only", seed, json_string_value(json_array_get(clear, i)), "");
  if (before != after)
    broken(proof, "other units, other findings", seed, "", "");
  proof->count.same_units++;
}

/* Facts and readings of the job sheet left out in turn, those that the rule reads and some of the others: what was
 * flagged may stay so, come to undecided or not apply. */
void again_without_facts(struct proof *proof, json_t *report, uint64_t seed, const char *rule)
{
  struct file *job = &proof->car->job;
  json_t *undecided = json_object_get(report, "undecided");

  for (int i = 0; i < job->count; i++) {
    struct item kept = job->item[i];
    json_t *without;

    if (!rule_needs(proof->rules, rule, kept.name) && ((uint64_t)i + seed) % OTHER_FACTS != 0)
      continue;
    job->item[i] = job->item[--job->count];
    without = audit_car(proof, 0, "delivery");
    if (finding_of(report, rule) != NULL && is_clear(without, rule))
      broken(proof, "clear without a fact", seed, rule, kept.name);
    for (size_t k = 0; k < json_array_size(undecided); k++)
      if (is_clear(without, text(json_array_get(undecided, k), "rule")))
        broken(proof, "clear without a fact, undecided with it", seed, text(json_array_get(undecided, k), "rule"),
               kept.name);
    json_decref(without);
    job->item[job->count++] = job->item[i];
    job->item[i] = kept;
    proof->count.dropped++;
  }
}

/* The limit that a finding names goes beyond what was measured: that rule must not find more than before. */
void again_with_limit_moved(struct proof *proof, json_t *report, uint64_t seed, const char *rule)
{
  const json_t *finding = finding_of(report, rule);
  const json_t *measured = json_object_get(finding, "measured"), *limit = json_object_get(finding, "limit");
  const char *from = json_string_value(json_object_get(finding, "limit_from")), *unit = text(finding, "limit_unit");
  double reach = json_number_value(measured) - json_number_value(limit);
  json_t *moved;

  if (from == NULL || strncmp(from, "limit.", 6) != 0 || !json_is_number(measured) || !json_is_number(limit) ||
      reach == 0 || strcmp(unit, text(finding, "unit")) != 0)
    return;
  snprintf(proof->car->limits, sizeof proof->car->limits,
           "limits:\n  %s: {value: \"%.9g %s\", reason: moved out of the way}\n", from + 6,
           json_number_value(measured) + 0.1 * reach, strcmp(unit, "1") == 0 ? "" : unit);
  moved = audit_car(proof, 0, "delivery");
  proof->car->limits[0] = '\0';
  if (finds_more(moved, report, rule))
    broken(proof, "a limit out of the way finds more", seed, rule, from);
  json_decref(moved);
  proof->count.moved++;
}

/* ---- the log told in another way: columns in another order, later on the clock, each row twice, twice the samples */

static void log_reversed(struct log *log, struct log *spare)
{
  (void)spare;
  for (int a = 0, b = log->channels - 1; a < b; a++, b--) {
    char name[NAME];
    enum quantity of = log->of[a];

    memcpy(name, log->channel[a], NAME);
    memcpy(log->channel[a], log->channel[b], NAME);
    memcpy(log->channel[b], name, NAME);
    log->of[a] = log->of[b];
    log->of[b] = of;
    for (int i = 0; i < log->rows; i++) {
      double kept = log->value[i][a];

      log->value[i][a] = log->value[i][b];
      log->value[i][b] = kept;
    }
  }
}

static void log_later(struct log *log, struct log *spare)
{
  (void)spare;
  for (int i = 0; i < log->rows; i++)
    log->value[i][log_column(log, "time")] += 1000;
}

static void log_doubled(struct log *log, struct log *spare)
{
  (void)spare;
  for (int i = log->rows - 1; i >= 0; i--) {
    memmove(log->value[2 * i + 1], log->value[i], sizeof log->value[0]);
    memmove(log->value[2 * i], log->value[i], sizeof log->value[0]);
  }
  log->rows *= 2;
}

/* The value between rows i and i + 1 by band-limited interpolation (eight taps of Lanczos's kernel): a straight line
 * would be a low pass and take a part of any scatter away. Held within the rows around, so that a step does not ring.
 * */
static double value_between(const struct log *log, int i, int channel)
{
  const double pi = acos(-1);
  double sum = 0, weights = 0, low = INFINITY, high = -INFINITY;

  for (int k = -3; k <= 4; k++) {
    int row = i + k < 0 ? 0 : i + k >= log->rows ? log->rows - 1 : i + k;
    double x = pi * (k - 0.5), weight = sin(x) / x * sin(x / 4) / (x / 4), value = log->value[row][channel];

    sum += weight * value;
    weights += weight;
    low = fmin(low, value);
    high = fmax(high, value);
  }
  return fmin(fmax(sum / weights, low), high);
}

/* Switches and counts have no value in between; a clock goes on evenly. */
static void log_finer(struct log *log, struct log *finer)
{
  int time = log_column(log, "time");

  *finer = *log;
  finer->rows = 2 * log->rows - 1;
  for (int i = 0; i < log->rows; i++) {
    memcpy(finer->value[2 * i], log->value[i], sizeof log->value[0]);
    for (int k = 0; k < log->channels && i + 1 < log->rows; k++)
      finer->value[2 * i + 1][k] = k == time               ? (log->value[i][k] + log->value[i + 1][k]) / 2
                                   : log->of[k] == NOTHING ? log->value[i][k]
                                                           : value_between(log, i, k);
  }
  *log = *finer;
}

/* Is what was measured so near to the limit that samples which are not those of the car may take it across? A robust
 * line is drawn through other pairs then. */
static bool is_near_limit(const json_t *finding, double near)
{
  const json_t *measured = json_object_get(finding, "measured"), *limit = json_object_get(finding, "limit");

  return json_is_number(measured) && json_is_number(limit) &&
         fabs(json_number_value(measured) - json_number_value(limit)) <= near * fabs(json_number_value(limit));
}

static void same_rules(struct proof *proof, const char *what, json_t *one, json_t *other, uint64_t seed, double near)
{
  json_t *findings = json_object_get(one, "findings"), *clear = json_object_get(one, "clear");

  for (size_t i = 0; i < json_array_size(findings); i++)
    if (finding_of(other, text(json_array_get(findings, i), "rule")) == NULL &&
        !(near > 0 && is_near_limit(json_array_get(findings, i), near)))
      broken(proof, what, seed, text(json_array_get(findings, i), "rule"), "no longer found");
  for (size_t i = 0; i < json_array_size(clear); i++)
    if (!is_clear(other, json_string_value(json_array_get(clear, i))))
      broken(proof, what, seed, json_string_value(json_array_get(clear, i)), "no longer clear");
  proof->count.retold++;
}

void again_with_log_retold(struct proof *proof, json_t *report, uint64_t seed)
{
  static const struct {
    const char *what;
    void (*change)(struct log *, struct log *spare);
    double near; /* share of a limit within which a finding may go: only where samples are made up */
  } ways[] = {{"columns in another order", log_reversed, 0},
              {"a later clock", log_later, 0},
              {"each row twice", log_doubled, 0},
              {"twice the samples", log_finer, 0.3}};

  proof->kept = proof->car->log;
  for (size_t k = 0; k < sizeof ways / sizeof *ways; k++) {
    json_t *other;

    proof->car->log = proof->kept;
    ways[k].change(&proof->car->log, &proof->spare);
    other = audit_car(proof, 0, "delivery");
    same_rules(proof, ways[k].what, report, other, seed, ways[k].near);
    json_decref(other);
  }
  proof->car->log = proof->kept;
}

/* ---- readings that move together */

static double measured_by(struct proof *proof, const char *rule, const char *clear_rule)
{
  json_t *report = audit_car(proof, 0, "delivery");
  double measured = NAN;

  if (finding_of(report, rule) != NULL && (clear_rule == NULL || is_clear(report, clear_rule)))
    measured = json_number_value(json_object_get(finding_of(report, rule), "measured"));
  json_decref(report);
  return measured;
}

/* Every reading of the light later by so many degrees, and by so many microseconds: 0.006 deg for a rpm and a ms. */
static double measured_by_light(struct proof *proof, double degrees, double delay, const char *rule,
                                const char *clear_rule)
{
  struct item *item = file_find(&proof->car->job, "timing_light"), kept = *item;
  double measured;

  for (int i = 0; i < item->ny; i++)
    item->value[i][1] -= degrees + 0.006e-3 * delay * item->value[i][2];
  measured = measured_by(proof, rule, clear_rule);
  *item = kept;
  return measured;
}

static void change_standing(struct log *log, const char *channel, double plus)
{
  int speed = log_column(log, "engine_speed"), column = log_column(log, channel);

  for (int i = 0; i < log->rows; i++)
    if (log->value[i][speed] == 0)
      log->value[i][column] += plus;
}

/* Two degrees more by the light are two degrees of offset and no drift; 100 us of delay more are 100 us of drift; both
 * pressures of a standing engine moved alike differ by what they did. */
void again_with_readings_shifted(struct proof *proof, uint64_t seed)
{
  double a = measured_by_light(proof, 5, 0, "base-timing-offset", "timing-drift-with-speed"),
         b = measured_by_light(proof, 7, 0, "base-timing-offset", "timing-drift-with-speed");

  if (!(fabs(b - a - 2) < 1e-6))
    broken(proof, "2 deg later by the light", seed, "base-timing-offset", "");
  a = measured_by_light(proof, 0, 150, "timing-drift-with-speed", NULL);
  b = measured_by_light(proof, 0, 250, "timing-drift-with-speed", NULL);
  if (!(fabs((b - a) / 0.006e-3 - 100) < 1e-3))
    broken(proof, "100 us later by the light", seed, "timing-drift-with-speed", "");
  proof->count.shifted += 2;
  if (!proof->car->with_log)
    return;
  change_standing(&proof->car->log, "manifold_pressure", -12);
  a = measured_by(proof, "key-on-map-vs-baro", NULL);
  change_standing(&proof->car->log, "manifold_pressure", 5);
  change_standing(&proof->car->log, "barometric_pressure", 5);
  b = measured_by(proof, "key-on-map-vs-baro", NULL);
  if (!(fabs(b - a) < 1e-6))
    broken(proof, "both pressures up by 5 kPa", seed, "key-on-map-vs-baro", "");
  proof->count.shifted++;
}
