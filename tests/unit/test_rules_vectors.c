/* The shipped rules against tests/unit/reference-vectors.tsv (all but the conversions, "u-"): a rule is run on inputs
 * made of a row's, with limits of the job sheet at which it flags, and the number in its finding has to be the row's.
 * Rows that no rule works out are listed with the reason; a row in neither list fails. Reading order: struct trial and
 * the macros of inputs, the two lists, then trial_run.
 *
 * The expected values come from the file: SAE J1979 (OBD), Heywood's combustion equation (stoichiometry), ISO 2533
 * (atmosphere, gas constant of air), a published thermistor table; the others are worked out from the textbook formula
 * that the row names. */
#include "reading.h"

#include "audit/audit.h"
#include "cli/library.h"
#include "read/job.h"
#include "read/log.h"
#include "read/settings.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum what { MEASURED, LIMIT };

struct trial {
  const char *id, *rule;
  const char *settings, *job, *log; /* texts without their first lines; NULL: none */
  enum what what;
  const char *unit;          /* of the number in the finding; NULL: none is written behind it */
  double scale;              /* the row's value is the number times this; 0: once */
  bool inverse;              /* the row's value is `scale` by the number */
  const char *says;          /* the number stands in the message, or in what to do, behind these words */
  double step;               /* to which the number is rounded: in the message, or where a limit was written down */
  double wanted, put;        /* the row's expected value, `put`, is put in, and `wanted`, its input, comes out; 0: no */
  double tolerance;          /* relative, in place of the row's; 0: no */
  double damping, frequency; /* the log is the answer of a second-order loop to a step (1/s); 0: no */
};

#define BECAUSE ", reason: reference}"

/* Required pulse and duty. Flow and density of 60 cm3/min and 1 kg/L meter 1 mg/ms, so that duty times the 20 ms of a
 * cycle at 6000 rpm is fuel in mg; and with a ratio of 1 at lambda 1, air in mg. */
#define SIZED(litres, count, flow, density, ratio, lambda, filling, pressure, air, dead, speed, duty)                 \
  .rule = "injector-too-small",                                                                                       \
  .settings =                                                                                                         \
      "injector.dead_time: {x: {unit: V, at: [14]}, value: {unit: ms, at: [" dead "]}}\n"                             \
      "fuel.volumetric_efficiency: {x: {unit: rpm, at: [6000]}, y: {unit: kPa, at: [100]}, value: {unit: \"%\""       \
      ", rows: [[" filling "]]}}\n"                                                                                   \
      "fuel.lambda_target: {x: {unit: rpm, at: [6000]}, y: {unit: kPa, at: [100]}, value: {unit: lambda, "            \
      "rows: [[" lambda "]]}}\n"                                                                                      \
      "boost.target: {x: {unit: rpm, at: [6000]}, y: {unit: \"%\", at: [100]}, value: {unit: kPa, rows: [[" pressure  \
      "]]}}\nprotection.speed_limit: " speed " rpm\n",                                                                \
  .job =                                                                                                              \
      "facts:\n  engine.displacement: " litres " L\n  fuel.stoichiometric_ratio: " ratio "\n  fuel.density: " density \
      " kg/L\n  injector.flow_rate: " flow " cm3/min\n  injector.rated_pressure: 300 kPa\n"                           \
      "  injector.count: " count "\n  fuel.pressure: 300 kPa\n  fuel.pressure_referenced: on\n"                       \
      "limits:\n  duty_air_temperature: {value: " air " degC" BECAUSE "\n  duty_high: {value: " duty " %" BECAUSE "\n"

#define PER_CYCLE .what = MEASURED, .unit = "1", .scale = 20
#define DUTY .what = MEASURED, .unit = "%"
/* A million engines, so that the rounding of the message to 0.1 cm3/min does not show. */
#define NEEDED(duty)                                                                           \
  SIZED("2000000", "4", "850", "0.745", "14.7", "0.80", "95", "200", "40", "1", "7000", duty), \
      .unit = "cm3/min", .says = "injectors of at least ", .step = 0.1, .scale = 1e-6

/* 841.495488405 L of air at 20 degC and 100 kPa are 1 kg: the gas constant times 293.15 K by 100 kPa. A flow of 1 kg/s
 * fuels it at a ratio of 1 in the 1 s of a cycle at 120 rpm, at the rated drop: duty is MAP by 100 kPa and the ratio.
 */
#define KILOGRAM                                                                                             \
  "facts:\n  engine.displacement: 841.495488405 L\n  fuel.stoichiometric_ratio: 1\n  fuel.density: 1 kg/L\n" \
  "  injector.flow_rate: 60000 cm3/min\n  injector.rated_pressure: 300 kPa\n  injector.count: 1\n"
#define UNITY                                                                                                      \
  "injector.dead_time: {x: {unit: V, at: [14]}, value: {unit: ms, at: [0]}}\n"                                     \
  "fuel.volumetric_efficiency: {x: {unit: rpm, at: [120]}, y: {unit: kPa, at: [100]}, value: {unit: \"%\", rows: " \
  "[[100]]}}\n"
#define UNREFERENCED(pressure)                                                                                        \
  {                                                                                                                   \
    .id = "unref-" #pressure, .rule = "injector-too-small",                                                           \
    .settings = UNITY "fuel.lambda_target: {x: {unit: rpm, at: [120]}, y: {unit: kPa, at: [100]}, value: {unit: "     \
                      "lambda, rows: [[1]]}}\n"                                                                       \
                      "boost.control: off\nprotection.speed_limit: 120 rpm\n",                                        \
    .job = KILOGRAM "  fuel.pressure: 300 kPa\n  fuel.pressure_referenced: off\n  boost.pressure_maximum: " #pressure \
                    " kPa\nlimits: {duty_high: {value: 1 %" BECAUSE "}\n",                                            \
    .what = MEASURED, .unit = "1", .scale = (pressure) / 100.0, .inverse = true                                       \
  }

/* The same engine in a log, with a rail of 300 kPa that follows nothing: pulses a million times what the rated drop
 * would take, since the message rounds to 0.1 %. */
#define AT(time, pressure) #time ",0,120," #pressure ",300,90,20,14,1," #pressure "0000000\n"
#define UNREFERENCED_LOG(pressure)                                                                                \
  {                                                                                                               \
    .id = "unref-" #pressure, .rule = "air-fuel-closure", .settings = UNITY,                                      \
    .job = KILOGRAM "limits: {settled_time: {value: 2 s" BECAUSE ", running_speed: {value: 60 rpm" BECAUSE "}\n", \
    .log = "time (s),throttle_position (%),engine_speed (rpm),manifold_pressure (kPa),fuel_pressure (kPa),"       \
           "coolant_temperature (degC),intake_air_temperature (degC),battery_voltage (V),lambda (lambda),"        \
           "injector_pulse_width (ms)\n" AT(0, pressure) AT(1, pressure) AT(2, pressure) AT(3, pressure),         \
    .unit = "%", .says = "the injectors give ", .step = 0.1, .scale = 1e-8                                        \
  }

/* What the fitted injectors flow at the pressure of the file's. */
#define ROOT(drop)                                                                                        \
  {                                                                                                       \
    .id = "sqrt-" #drop, .rule = "injector-flow-vs-jobsheet",                                             \
    .settings = "injector.flow_rate: 400 cm3/min\ninjector.rated_pressure: " #drop " kPa\n",              \
    .job = "facts: {injector.flow_rate: 100 cm3/min, injector.rated_pressure: 300 kPa}\n", .what = LIMIT, \
    .unit = "cm3/min", .scale = 0.01                                                                      \
  }

/* One charge: a curve of one point, and both ends of the range of voltages there. */
#define CHARGE(volts, ms) \
  .settings = "ignition.dwell: {x: {unit: V, at: [" volts "]}, value: {unit: ms, at: [" ms "]}}\n"
#define COIL(volts, ohm, mh, ampere, millijoule)                                                                       \
  .job = "facts: {ignition.coil_resistance: " ohm " Ohm, ignition.coil_inductance: " mh                                \
         " mH, ignition.coil_current_maximum: " ampere " A}\nlimits:\n  coil_voltage_low: {value: " volts " V" BECAUSE \
         "\n  coil_voltage_high: {value: " volts " V" BECAUSE "\n  spark_energy_low: {value: " millijoule              \
         " mJ" BECAUSE "\n"
/* Dwell and inductance a million times as large, so that the rounding of the message to 0.01 ms does not show. */
#define TIME_TO \
  .rule = "dwell-exceeds-coil-limit", .unit = "ms", .says = "it is there after ", .step = 0.01, .scale = 1e-6

/* 3.0 ms at 6000 rpm, a hundred million times as long: the message rounds the share to 1 %. */
#define DWELL_DUTY(coil)                                                                        \
  .rule = "dwell-exceeds-time", CHARGE("14", "300000000") "protection.speed_limit: 6000 rpm\n", \
  .job = "facts: {ignition.coil_layout: " coil "}\n", .unit = "%", .says = "of it at 14 V, ", .step = 1, .scale = 1e-8

#define ATMOSPHERE(metres)                                                     \
  .rule = "baro-vs-altitude", .job = "facts: {site.altitude: " metres " m}\n", \
  .log = "time (s),barometric_pressure (kPa)\n0,55\n1,55\n", .what = LIMIT, .unit = "kPa"

/* The limits as the rows have them, with all digits; the shipped ones are rounded to 14.6 and 9.0. */
#define RATIOS \
  "limits:\n  stoich_petrol: {value: 14.59900575" BECAUSE "\n  stoich_ethanol: {value: 9.001953549" BECAUSE "\n"
#define NAMED(name, limits)                                                                              \
  .rule = "stoich-vs-fuel", .settings = "engine.stoichiometric_ratio: 17\n", .what = LIMIT, .unit = "1", \
  .job = "facts: {fuel.name: " name "}\n" limits
#define BLEND(at, values)                                                    \
  .rule = "ethanol-factor-shape", .job = RATIOS, .what = LIMIT, .unit = "1", \
  .settings =                                                                \
      "fuel.ethanol_fuel_correction: {x: {unit: \"%\", at: [" at "]}, value: {unit: \"%\", at: [" values "]}}\n"

/* The rule speaks of the coolant sensor alone. */
#define SENSOR(points) "readings: {coolant_sensor: [" points "]}\n"
#define POINT(celsius, ohm) "{temperature: " celsius " degC, resistance: " ohm " Ohm}"
#define THREE POINT("0", "5975") ", " POINT("40", "1152") ", " POINT("100", "175.7")
#define TWO POINT("25", "2044") ", " POINT("100", "175.7")
#define TWO_HUGE POINT("0", "5975e9") ", " POINT("40", "1152e9")
#define FITTED(points, at, values)                          \
  .rule = "thermistor-vs-published", .job = SENSOR(points), \
  .settings = "sensor.coolant_calibration: {x: {unit: Ohm, at: [" at "]}, value: {unit: degC, at: [" values "]}}\n"

#define RINGS \
  .rule = "idle-overshoot", .what = MEASURED, .unit = "%", .job = "limits: {overshoot_share: {value: 10 %" BECAUSE "}\n"
static const struct trial trials[] = {
    {.id = "sd-a", SIZED("2", "4", "60", "1", "1", "1", "90", "100", "20", "0", "6000", "1"), PER_CYCLE},
    {.id = "sd-b", SIZED("2", "4", "60", "1", "1", "1", "95", "200", "40", "0", "6000", "1"), PER_CYCLE},
    {.id = "sd-idle", SIZED("2", "4", "60", "1", "1", "1", "40", "35", "30", "0", "6000", "1"), PER_CYCLE},
    /* One injector of 1 g/s for the whole engine: its duty is the flow of air in g/s. */
    {.id = "sd-a-flow",
     SIZED("2", "1", "60", "1", "1", "1", "90", "100", "20", "0", "6000", "1"),
     .what = MEASURED,
     .unit = "1"},
    {.id = "fuel-a", SIZED("2", "4", "60", "1", "14.7", "0.88", "90", "100", "20", "0", "6000", "1"), PER_CYCLE},
    {.id = "fuel-b", SIZED("2", "4", "60", "1", "14.7", "0.80", "95", "200", "40", "0", "6000", "1"), PER_CYCLE},
    {.id = "pw-a", SIZED("2", "4", "440", "0.745", "14.7", "0.88", "90", "100", "20", "0", "6000", "1"), PER_CYCLE},
    /* The reference pulse is for lambda 1 and 100 % filling at the same pressure and temperature. */
    {.id = "pw-a",
     .rule = "reference-pulse-mismatch",
     .settings = "engine.displacement: 2 L\nengine.stoichiometric_ratio: 14.7\ninjector.count: 4\n"
                 "injector.flow_rate: 440 cm3/min\nfuel.reference_pulse_width: 9 ms\n",
     .job = "facts: {fuel.density: 0.745 kg/L}\n",
     .what = LIMIT,
     .unit = "ms",
     .scale = 0.90 / 0.88},
    {.id = "pwt-a", SIZED("2", "4", "440", "0.745", "14.7", "0.88", "90", "100", "20", "0.9", "6000", "1"), PER_CYCLE},
    {.id = "dc-a", SIZED("2", "4", "440", "0.745", "14.7", "0.88", "90", "100", "20", "0.9", "6000", "1"), DUTY},
    /* The pulse of row pwt-a. */
    {.id = "dc-a",
     .rule = "injector-duty-in-log",
     .job = "limits: {duty_high: {value: 10 %" BECAUSE "}\n",
     .log = "time (s),throttle_position (%),engine_speed (rpm),injector_pulse_width (ms)\n"
            "0,100,6000,8.466639028\n1,100,6000,8.466639028\n2,100,6000,8.466639028\n3,100,6000,8.466639028\n",
     DUTY},
    {.id = "dc-b", SIZED("2", "4", "850", "0.745", "14.7", "0.80", "95", "200", "40", "1", "6500", "1"), DUTY},
    {.id = "pw-idle", SIZED("2", "4", "440", "0.745", "14.7", "1", "40", "35", "30", "0", "6000", "1"), PER_CYCLE},
    {.id = "req-b-80", NEEDED("80")},
    {.id = "req-b-85", NEEDED("85")},
    {.id = "req-b-90", NEEDED("90")},
    /* Open for the pulse of row pw-idle (1.00162127465 ms), 0.9 ms of dead time, and 0.15 ms more. */
    {.id = "dt-err-idle",
     .rule = "air-fuel-closure",
     .settings = "engine.displacement: 2 L\nengine.stoichiometric_ratio: 14.7\ninjector.count: 4\n"
                 "injector.flow_rate: 440 cm3/min\ninjector.rated_pressure: 300 kPa\n"
                 "injector.dead_time: {x: {unit: V, at: [14]}, value: {unit: ms, at: [0.9]}}\n"
                 "fuel.volumetric_efficiency: {x: {unit: rpm, at: [900]}, y: {unit: kPa, at: [35]}, value: {unit: "
                 "\"%\", rows: [[40]]}}\n",
     .job = "facts: {fuel.density: 0.745 kg/L}\nlimits: {settled_time: {value: 2 s" BECAUSE "}\n",
     .log = "time (s),throttle_position (%),engine_speed (rpm),manifold_pressure (kPa),coolant_temperature (degC),"
            "intake_air_temperature (degC),battery_voltage (V),lambda (lambda),injector_pulse_width (ms)\n"
            "0,0,900,35,90,30,14,1,2.05162127465\n1,0,900,35,90,30,14,1,2.05162127465\n"
            "2,0,900,35,90,30,14,1,2.05162127465\n3,0,900,35,90,30,14,1,2.05162127465\n",
     .what = MEASURED,
     .unit = "%"},
    ROOT(250),
    ROOT(350),
    ROOT(400),
    UNREFERENCED(30),
    UNREFERENCED(50),
    UNREFERENCED(70),
    UNREFERENCED(100),
    UNREFERENCED(120),
    UNREFERENCED(150),
    UNREFERENCED(180),
    UNREFERENCED(200),
    UNREFERENCED_LOG(30),
    UNREFERENCED_LOG(50),
    UNREFERENCED_LOG(70),
    UNREFERENCED_LOG(100),
    UNREFERENCED_LOG(120),
    UNREFERENCED_LOG(150),
    UNREFERENCED_LOG(180),
    UNREFERENCED_LOG(200),
    {.id = "coil-i-13.5",
     .rule = "dwell-exceeds-coil-limit",
     CHARGE("13.5", "3"),
     COIL("13.5", "0.5", "4", "1", "1"),
     .what = MEASURED,
     .unit = "A"},
    {.id = "coil-i-10",
     .rule = "dwell-exceeds-coil-limit",
     CHARGE("10", "3"),
     COIL("10", "0.5", "4", "1", "1"),
     .what = MEASURED,
     .unit = "A"},
    {.id = "coil-e",
     .rule = "dwell-too-short",
     CHARGE("13.5", "3"),
     COIL("13.5", "0.5", "4", "1", "200"),
     .what = MEASURED,
     .unit = "mJ"},
    {.id = "coil-t-7", CHARGE("13.5", "4000000"), COIL("13.5", "0.5", "4000000", "7", "1"), TIME_TO},
    {.id = "coil-t-7-10", CHARGE("10", "4000000"), COIL("10", "0.5", "4000000", "7", "1"), TIME_TO},
    /* 95 % of 10 V by 2 Ohm. */
    {.id = "coil-95", CHARGE("10", "20000000"), COIL("10", "2", "10000000", "4.75", "1"), TIME_TO},
    /* 20 time constants: 2e-9 short of the 3 A. */
    {.id = "coil-textbook",
     .rule = "dwell-too-short",
     CHARGE("12", "30"),
     COIL("12", "4", "6", "3", "27"),
     .what = MEASURED,
     .unit = "mJ"},
    {.id = "dwellduty-dist4", DWELL_DUTY("distributor, engine.cylinders: 4")},
    {.id = "dwellduty-dist8", DWELL_DUTY("distributor, engine.cylinders: 8")},
    {.id = "dwellduty-wasted", DWELL_DUTY("wasted_spark")},
    {.id = "dwellduty-cop", DWELL_DUTY("coil_per_cylinder")},
    /* The light shows 3.6 deg too little at 6000 rpm, and as much less as the speed is below. */
    {.id = "lat-6000",
     .rule = "timing-drift-with-speed",
     .job = "readings:\n  timing_light:\n"
            "    - {commanded: 20 deg, measured: 19.4 deg, engine_speed: 1000 rpm}\n"
            "    - {commanded: 20 deg, measured: 18.2 deg, engine_speed: 3000 rpm}\n"
            "    - {commanded: 20 deg, measured: 16.4 deg, engine_speed: 6000 rpm}\n",
     .what = MEASURED,
     .unit = "ms",
     .wanted = 0.1,
     .put = 3.6},
    {.id = "isa-0", ATMOSPHERE("0")},
    {.id = "isa-250", ATMOSPHERE("250")},
    {.id = "isa-500", ATMOSPHERE("500")},
    {.id = "isa-1000", ATMOSPHERE("1000")},
    {.id = "isa-1500", ATMOSPHERE("1500")},
    {.id = "isa-2000", ATMOSPHERE("2000")},
    {.id = "isa-3000", ATMOSPHERE("3000")},
    /* 1e-6 of the altitude is 1.7e-7 of the pressure up there. */
    {.id = "isa-inv-85", ATMOSPHERE("1457.299452"), .wanted = 85, .put = 1457.299452, .tolerance = 1.7e-7},
    /* The shipped limits are these, rounded. */
    {.id = "st-gasoline-ch1.87", NAMED("pump petrol", ""), .step = 0.1},
    {.id = "st-ethanol", NAMED("E100", ""), .step = 0.1},
    {.id = "st-methanol", NAMED("methanol", ""), .step = 0.01},
    {.id = "st-e10", NAMED("E10", RATIOS)},
    {.id = "st-e85", NAMED("E85", RATIOS)},
    {.id = "fuelvol-e10", BLEND("0, 10, 30, 85", "100, 199, 112, 142")},
    {.id = "fuelvol-e50", BLEND("0, 50, 85", "100, 199, 142")},
    {.id = "fuelvol-e85", BLEND("0, 85", "100, 199")},
    {.id = "ntc-A", FITTED(THREE, "1152", "90"), .says = "they follow 1/T = "},
    {.id = "ntc-B", FITTED(THREE, "1152", "90"), .says = "1/T = 0.001335147714 + "},
    {.id = "ntc-C", FITTED(THREE, "1152", "90"), .says = "ln R + "},
    {.id = "ntc-t-2502", FITTED(THREE, "2502", "90"), .what = LIMIT, .unit = "degC"},
    {.id = "ntc-t-308.6", FITTED(THREE, "308.6", "10"), .what = LIMIT, .unit = "degC"},
    {.id = "ntc-t-48805", FITTED(THREE, "48805", "10"), .what = LIMIT, .unit = "degC"},
    {.id = "ntc-beta", FITTED(TWO, "1152", "90"), .unit = "K", .says = "they follow beta = "},
    /* A thousand million times 2500 Ohm and 1000 Ohm, so that the rounding of the message to 0.1 Ohm does not show. */
    {.id = "ntc-div-20",
     .rule = "thermistor-vs-published",
     .settings =
         "sensor.coolant_voltage_calibration: {x: {unit: V, at: [3.571428571]}, value: {unit: degC, at: [90]}}\n"
         "sensor.coolant_pull_up: 1e12 Ohm\n",
     .job = SENSOR(TWO_HUGE),
     .unit = "Ohm",
     .says = "which is ",
     .step = 0.1,
     .scale = 1e-9,
     .wanted = 2500,
     .put = 3.571428571},
    {.id = "eth-85",
     .rule = "ethanol-sensor-implausible",
     .log = "time (s),ethanol_sensor_frequency (Hz),ethanol_content (%)\n0,135,10\n1,135,10\n2,135,10\n",
     .what = LIMIT,
     .unit = "%"},
    {.id = "so-os-0.5", RINGS, .damping = 0.5, .frequency = 10},
    {.id = "so-os-0.4", RINGS, .damping = 0.4, .frequency = 2.5},
    {.id = "so-os-0.2", RINGS, .damping = 0.2, .frequency = 3},
    {.id = "zeta-25", RINGS, .damping = 0.4037127519, .frequency = 3, .wanted = 25, .put = 0.4037127519},
};

enum { TRIALS = sizeof trials / sizeof *trials };

#define LOGGER "the bytes of a scan tool are decoded by the logger; a log holds numbers with units"
#define FORMULA "a rule knows the fuel by name or by its ratio, not by its chemical formula"
#define PEAK "a rule judges how far a step is passed and how long it takes to settle, not when it peaks"
#define THROTTLE "no rule works out the flow through the throttle"

static const struct {
  const char *id, *why;
} unused[] = {
    {"obd-05", LOGGER},
    {"obd-0c", LOGGER},
    {"obd-0e", LOGGER},
    {"obd-10", LOGGER},
    {"obd-06", LOGGER},
    {"obd-11", LOGGER},
    {"obd-0b", LOGGER},
    {"obd-44", LOGGER},
    {"obd-42", LOGGER},
    {"obd-52", LOGGER},
    {"st-isooctane", FORMULA},
    {"st-n-heptane", FORMULA},
    {"st-toluene", FORMULA},
    {"st-propane", FORMULA},
    {"st-methane", FORMULA},
    {"st-e50", "of the blends a rule knows E10 and E85 by name; the volume factor of E50 is checked"},
    {"q-440", "a step within the required pulse: row pw-a needs it, no finding shows it"},
    {"req-power", "a rule works out the injectors from air, table and mixture, not from power"},
    {"req-power-cc", "a rule works out the injectors from air, table and mixture, not from power"},
    {"so-tp-0.5", PEAK},
    {"so-tp-0.4", PEAK},
    {"so-tp-0.2", PEAK},
    {"choked", THROTTLE},
    {"crit", THROTTLE},
};

enum { UNUSED = sizeof unused / sizeof *unused, ROWS = 91, MOST_ROWS = 200 };

struct row {
  char id[32];
  double expected, tolerance;
  bool relative;
};

struct rows {
  size_t count;
  struct row items[MOST_ROWS];
};

/* The rows that are no conversions. */
static void rows_read(struct rows *rows)
{
  FILE *file = fopen("tests/unit/reference-vectors.tsv", "r");
  char line[1024];
  rows->count = 0;
  if (file == NULL)
    fail_msg("cannot open tests/unit/reference-vectors.tsv: run from the top of the tree");
  assert_non_null(fgets(line, sizeof line, file));
  while (fgets(line, sizeof line, file) != NULL) {
    char *fields[6] = {line};
    for (size_t i = 1; i < 6; i++) {
      fields[i] = strchr(fields[i - 1], '\t');
      assert_non_null(fields[i]);
      *fields[i]++ = '\0';
    }
    if (strncmp(line, "u-", 2) == 0)
      continue;
    assert_true(rows->count < MOST_ROWS && strlen(line) < sizeof rows->items[0].id);
    struct row *row = &rows->items[rows->count++];
    char *end;
    memcpy(row->id, line, strlen(line) + 1);
    row->expected = strtod(fields[3], NULL);
    row->tolerance = strtod(fields[5], &end);
    row->relative = strncmp(end, " rel", 4) == 0;
    assert_true(row->relative || strncmp(end, " abs", 4) == 0);
  }
  fclose(file);
}

/* An idle whose target rises from 900 rpm by 100 rpm at 10 s, and a second-order loop that follows:
 * y = 1 - exp(-z w t) (cos v t + z w / v sin v t), v = w sqrt(1 - z z). Four samples to its first peak at pi / v. */
static const char *ringing(struct arena *arena, double z, double w)
{
  const double pi = 3.14159265358979323846;
  double v = w * sqrt(1 - z * z), step = pi / v / 4;
  char *text = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&text, &size);
  assert_non_null(out);
  fputs("time (s),throttle_position (%),coolant_temperature (degC),idle_speed_target (rpm),engine_speed (rpm)\n", out);
  for (int i = (int)(-10 / step); i * step < 20; i++) {
    double t = i * step, y = i < 0 ? 0 : 1 - exp(-z * w * t) * (cos(v * t) + z * w / v * sin(v * t));
    fprintf(out, "%.15g,0,85,%d,%.15g\n", 10 + t, i < 0 ? 900 : 1000, 900 + 100 * y);
  }
  fclose(out);
  const char *copy = arena_print(arena, "%s", text);
  free(text);
  return copy;
}

static const struct source *text_source(struct run *run, const char *name, const char *head, const char *body)
{
  return sources_memory(run->sources, name, slice_of(arena_print(run->arena, "%s%s", head, body)));
}

static const struct rule *rule_named(const struct packs *packs, const char *id)
{
  for (size_t i = 0; i < packs->rule_count; i++) {
    if (slice_is(packs->rules[i]->id, id))
      return packs->rules[i];
  }
  fail_msg("there is no rule %s", id);
  return NULL;
}

static struct subject subject_of(struct run *run, const struct library *library, const struct trial *trial)
{
  struct subject subject = {.vocabulary = library->vocabulary};
  const struct log_options options = {.wanted = NULL};
  const char *settings = trial->settings ? trial->settings : "file.title: reference\n";
  const char *log = trial->damping > 0 ? ringing(run->arena, trial->damping, trial->frequency) : trial->log;
  subject.settings = settings_read(run->arena, library->vocabulary,
                                   text_source(run, "settings.yaml", "keyway-settings: 1\n", settings), &run->problems);
  if (trial->job != NULL)
    subject.job = job_read(run->arena, library->vocabulary, text_source(run, "job.yaml", "keyway-job: 1\n", trial->job),
                           &run->problems);
  if (log != NULL)
    subject.log =
        log_read(run->arena, library->vocabulary, text_source(run, "log.csv", "", log), &options, &run->problems);
  if (subject.job != NULL)
    audit_check_job(library->packs, subject.job, &run->problems);
  if (run->problems.count > 0)
    fail_msg("%s by %s: the inputs are refused: %s", trial->id, trial->rule, run_said(run));
  return subject;
}

/* The one number of the finding that the check is about. */
static double number_of(struct run *run, const struct trial *trial, const struct finding *finding)
{
  const char *why = NULL;
  const struct unit *unit = trial->unit ? unit_read(run->arena, slice_of(trial->unit), &why) : NULL;
  if (trial->says != NULL) {
    const char *at = strstr(finding->message, trial->says);
    at = at == NULL ? strstr(finding->act, trial->says) : at;
    if (at == NULL)
      fail_msg("%s by %s: the message is: %s", trial->id, trial->rule, finding->message);
    char *end;
    double number = at != NULL ? strtod(at + strlen(trial->says), &end) : 0;
    if (at != NULL && trial->unit != NULL && (*end != ' ' || strncmp(end + 1, trial->unit, strlen(trial->unit)) != 0))
      fail_msg("%s by %s: not in %s: %s", trial->id, trial->rule, trial->unit, finding->message);
    return number;
  }
  assert_non_null(unit);
  assert_true(trial->what == LIMIT ? finding->has_limit : finding->has_measured);
  struct quantity got = trial->what == LIMIT ? finding->limit : finding->measured;
  if (!unit_agrees(got.unit, unit))
    fail_msg("%s by %s: comes out in %s, not %s", trial->id, trial->rule, got.unit->name, trial->unit);
  return unit_from_base(unit, got.value);
}

static void trial_run(struct run *run, const struct library *library, const struct trial *trial, const struct row *row)
{
  struct subject subject = subject_of(run, library, trial);
  struct audit_options options = {.stage = STAGE_DELIVERY, .only = rule_named(library->packs, trial->rule)};
  const struct outcome *outcome = audit_run(run->arena, library->packs, &subject, run->sources, &options, NULL);
  if (outcome->finding_count != 1) {
    const char *lacks = outcome->undecided_count > 0 && outcome->undecided[0].missing_count > 0
                            ? outcome->undecided[0].missing[0]
                            : "nothing";
    fail_msg("%s by %s: %zu findings; it lacks %s", trial->id, trial->rule, outcome->finding_count, lacks);
  }
  double number = number_of(run, trial, &outcome->findings[0]), scale = trial->scale > 0 ? trial->scale : 1;
  double got = trial->inverse ? scale / number : scale * number;
  double expected = trial->wanted > 0 ? trial->wanted : row->expected;
  if (trial->wanted > 0 && fabs(trial->put - row->expected) > 1e-15 * row->expected)
    fail_msg("%s by %s: %.12g is put in, not the row's value", trial->id, trial->rule, trial->put);
  double tolerance = trial->tolerance > 0 ? trial->tolerance : row->tolerance;
  double most = (row->relative ? tolerance * fabs(expected) : tolerance) + trial->step / 2 * scale;
  if (!(fabs(got - expected) <= most))
    fail_msg("%s by %s: %.12g, expected %.12g: %s", trial->id, trial->rule, got, expected,
             outcome->findings[0].message);
}

static const struct row *row_named(const struct rows *rows, const char *id)
{
  for (size_t i = 0; i < rows->count; i++) {
    if (strcmp(rows->items[i].id, id) == 0)
      return &rows->items[i];
  }
  fail_msg("the file has no row %s", id);
  return NULL;
}

static void formulas_give_the_published_values(void **state)
{
  (void)state;
  struct rows rows;
  rows_read(&rows);
  size_t ran = 0;
  for (size_t i = 0; i < TRIALS; i++) {
    struct run run = run_new();
    struct library library;
    assert_true(library_read(run.arena, run.sources, LIBRARY_LEAN, NULL, 0, &library, &run.problems));
    run.problems.of = PROBLEM_OF_INPUT;
    trial_run(&run, &library, &trials[i], row_named(&rows, trials[i].id));
    run_free(&run);
    ran++;
  }
  assert_true(ran > 0);
}

/* Each row is either worked out by a rule or listed with the reason why none does. */
static void every_row_is_in_one_list(void **state)
{
  (void)state;
  struct rows rows;
  rows_read(&rows);
  assert_int_equal(rows.count, ROWS);
  for (size_t i = 0; i < rows.count; i++) {
    bool checked = false, listed = false;
    for (size_t k = 0; k < TRIALS; k++)
      checked = checked || strcmp(trials[k].id, rows.items[i].id) == 0;
    for (size_t k = 0; k < UNUSED; k++)
      listed = listed || strcmp(unused[k].id, rows.items[i].id) == 0;
    if (checked == listed)
      fail_msg("row %s is in %s", rows.items[i].id, checked ? "both lists" : "neither list");
  }
  for (size_t k = 0; k < UNUSED; k++) {
    assert_non_null(row_named(&rows, unused[k].id));
    assert_true(unused[k].why[0] != '\0');
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(formulas_give_the_published_values),
                                     cmocka_unit_test(every_row_is_in_one_list)};
  return cmocka_run_group_tests_name("rules/vectors", tests, NULL, NULL);
}
