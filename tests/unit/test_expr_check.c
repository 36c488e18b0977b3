/* Expressions that are refused, each with the place and the words that a person is told: longer than other files
 * because it is one table. Rows: the expression, then "FIRST-BYTE 'marked bytes' message | hint" for every problem, one
 * a line;
 * "-": no hint. The words are ours (common practice, no source); what is refused and why is in rules/LANGUAGE.md. */
#include "expr_help.h"

struct wrong {
  const char *text, *said;
};

static const struct wrong wrong[] = {
    {"", "0 '' the expression ends where a value is expected | -"},
    {"   ", "3 '' the expression ends where a value is expected | -"},
    {"1 +", "3 '' the expression ends where a value is expected | -"},
    {"(1 + 2", "6 '' the expression ends where ')' is expected | -"},
    {"1 + 2)", "5 ')' ')' stands where an operator or the end is expected | -"},
    {"1 2", "2 '2' '2' stands where an operator or the end is expected | -"},
    {"* 3", "0 '*' '*' stands where a value is expected | -"},
    {"1 < 2 < 3",
     "6 '<' '<' stands where the end of the comparison (comparisons do not chain: use 'and') is expected | -"},
    {"1 == 2 == 3",
     "7 '==' '==' stands where the end of the comparison (comparisons do not chain: use 'and') is expected | -"},
    {"1 = 2", "2 '=' '=' is not part of the rule language | equal is =="},
    {"1 ! 2", "2 '!' '!' is not part of the rule language | unequal is !=, and 'not' turns a condition round"},
    {"!true", "0 '!' '!' is not part of the rule language | unequal is !=, and 'not' turns a condition round"},
    {"1 & 2", "2 '&' '&' is not part of the rule language | -"},
    {"2 ^ 3", "2 '^' '^' is not part of the rule language | -"},
    {"1; 2", "1 ';' ';' is not part of the rule language | -"},
    {"\"open", "0 '\"open' this text has no closing \" | -"},
    {"'open", "0 ''open' this text has no closing ' | -"},
    {"[\"a\", \"b\"", "9 '' the expression ends where ',' or ']' is expected | -"},
    {"[\"a\" \"b\"]", "5 '\"b\"' '\"b\"' stands where ',' or ']' is expected | -"},
    {"[a]", "1 'a' 'a' stands where a quoted text or ']' is expected | -"},
    {"[\"a\", 3]", "6 '3' '3' stands where a quoted text or ']' is expected | -"},
    {"5 kpo", "2 'kpo' unknown unit 'kpo'; did you mean 'kPa'? | -"},
    {"5 AFR", "2 'AFR' 'AFR' is an air-fuel ratio: divide by the stoichiometric ratio of the fuel to get lambda | -"},
    {"30 psig", "3 'psig' 'psig' is a gauge pressure, and pressures here are absolute: add the barometer and write psi "
                "(an entry that is gauge by its description takes psi as it stands) | -"},
    {"1e999 rpm", "0 '1e999' this number is too large | -"},
    {"1e308 km", "0 '1e308 km' this number is too large | -"},
    {"10 deg/tune.ignition.fixed_advance",
     "3 'deg/tune.ignition.fixed_advance' unknown unit 'deg/tune.ignition.fixed_advance' | a '/' that divides has "
     "blanks around it"},
    {"3 rpm 4 rpm", "6 '4 rpm' '4 rpm' stands where an operator or the end is expected | -"},
    {"timing_mode",
     "0 'timing_mode' 'timing_mode' is not a name of this rule | settings start with tune., channels "
     "with log., facts and readings with job., thresholds with limit., phases with phase.; texts are quoted"},
    {"tune.ignition.fixed_advnace", "0 'tune.ignition.fixed_advnace' 'tune.ignition.fixed_advnace' is not in the "
                                    "vocabulary | the nearest name is tune.ignition.fixed_advance"},
    {"log.engine_sped",
     "0 'log.engine_sped' 'log.engine_sped' is not in the vocabulary | the nearest name is log.engine_speed"},
    {"job.coolant.mesured", "0 'job.coolant.mesured' 'job.coolant.mesured' is not in the vocabulary | the nearest name "
                            "is job.coolant.measured"},
    {"limit.warm_up_ends",
     "0 'limit.warm_up_ends' 'limit.warm_up_ends' is not in the vocabulary | the nearest name is limit.warm_up_end"},
    {"tune.", "4 '.' '.' is not part of the rule language | -"},
    {"tune.xyzzy", "0 'tune.xyzzy' 'tune.xyzzy' is not in the vocabulary | -"},
    {"p.value", "0 'p.value' 'p.value' is not a name of this rule | settings start with tune., channels with log., "
                "facts and readings with job., thresholds with limit., phases with phase.; texts are quoted"},
    {"fixed", "0 'fixed' 'fixed' is not a name of this rule | settings start with tune., channels with log., facts and "
              "readings with job., thresholds with limit., phases with phase.; texts are quoted"},
    {"abs(1, 2)", "0 'abs(1, 2)' abs does not take 2 arguments | it is abs(x)"},
    {"abs()", "0 'abs()' abs does not take 0 arguments | it is abs(x)"},
    {"ab(1)", "0 'ab(1)' there is no function 'ab' | the nearest one is abs(x)"},
    {"min()", "0 'min()' min does not take 0 arguments | it is min(s), min(a, b, ...)"},
    {"foo(1)", "0 'foo(1)' there is no function 'foo' | -"},
    {"highest(1)", "9 ')' ')' stands where ', over NAME from A to B' is expected | -"},
    {"highest(x, over x from 1 rpm)", "28 ')' ')' stands where 'to' is expected | -"},
    {"highest(x, over x to 2 rpm)", "18 'to' 'to' stands where 'from' is expected | -"},
    {"highest(x over x from 1 to 2)", "10 'over' 'over' stands where ', over NAME from A to B' is expected | -"},
    {"highest(x, over x from 1 rpm to 2 kPa)",
     "23 '1 rpm to 2 kPa' a number (speed of rotation) and a number (pressure) do not go together | -"},
    {"highest(x, over x from log.engine_speed to 2 rpm)",
     "23 'log.engine_speed' the ends of a range are single values | -"},
    {"highest(x, over x from tune.nope to 2 rpm)", "23 'tune.nope' 'tune.nope' is not in the vocabulary | -"},
    {"highest(log.engine_speed + x, over x from 1 rpm to 2 rpm)",
     "8 'log.engine_speed + x' a single number is expected here, not a series of numbers (speed of rotation) | -"},
    {"highest(x, over x from 1 rpm to 2 rpm, y from x to 3 rpm)",
     "46 'x' 'x' is not a name of this rule | settings start with tune., channels with log., facts and readings with "
     "job., thresholds with limit., phases with phase.; texts are quoted"},
    {"1 rpm + 1 kPa", "0 '1 rpm + 1 kPa' a number (speed of rotation) and a number (pressure) cannot be added | -"},
    {"1 % + 1 deg", "0 '1 % + 1 deg' a number (plain number) and a number (angle) cannot be added | -"},
    {"1 lambda + 1", "0 '1 lambda + 1' a number (mixture (lambda)) and a number (plain number) cannot be added | -"},
    {"1 deg - 1 lambda",
     "0 '1 deg - 1 lambda' a number (angle) and a number (mixture (lambda)) cannot be subtracted | -"},
    {"80 degC + 80 degC", "0 '80 degC + 80 degC' two temperatures cannot be added; a temperature and a difference (5 "
                          "K, 5 degC_diff) can | -"},
    {"80 degC + 80 degF", "0 '80 degC + 80 degF' two temperatures cannot be added; a temperature and a difference (5 "
                          "K, 5 degC_diff) can | -"},
    {"5 K + 1 kPa", "0 '5 K + 1 kPa' a number (temperature) and a number (pressure) cannot be added | -"},
    {"5 degC_diff - 80 degC", "0 '5 degC_diff - 80 degC' a temperature cannot be taken from a difference | -"},
    {"80 degC * 2",
     "0 '80 degC' a temperature cannot be multiplied or divided; take a difference from a reference first | -"},
    {"2 * 80 degC",
     "4 '80 degC' a temperature cannot be multiplied or divided; take a difference from a reference first | -"},
    {"80 degC / 2",
     "0 '80 degC' a temperature cannot be multiplied or divided; take a difference from a reference first | -"},
    {"1 / 80 degC",
     "4 '80 degC' a temperature cannot be multiplied or divided; take a difference from a reference first | -"},
    {"80 degC * 80 degC",
     "0 '80 degC' a temperature cannot be multiplied or divided; take a difference from a reference first | -"},
    {"-limit.warm_up_end",
     "0 '-limit.warm_up_end' a temperature cannot be turned round; take a difference from a reference first | -"},
    {"-tune.fuel.overrun_minimum_coolant", "0 '-tune.fuel.overrun_minimum_coolant' a temperature cannot be turned "
                                           "round; take a difference from a reference first | -"},
    {"abs(80 degC)", "4 '80 degC' a temperature has no size; take a difference from a reference first | -"},
    {"abs(limit.warm_up_end)",
     "4 'limit.warm_up_end' a temperature has no size; take a difference from a reference first | -"},
    {"sqrt(80 degC)", "5 '80 degC' a temperature has no size; take a difference from a reference first | -"},
    {"sqrt(2 kPa)", "5 '2 kPa' the square root of pressure has no unit | -"},
    {"sqrt(5 K)", "5 '5 K' the square root of temperature has no unit | -"},
    {"ln(80 degC)", "3 '80 degC' a plain number is expected here, not a number (temperature) | -"},
    {"exp(2 deg)", "4 '2 deg' a plain number is expected here, not a number (angle) | -"},
    {"power(2 rpm, 2)", "6 '2 rpm' a plain number is expected here, not a number (speed of rotation) | -"},
    {"power(2, 2 deg)", "9 '2 deg' a plain number is expected here, not a number (angle) | -"},
    {"sin(1)", "4 '1' an angle is expected here, not a number (plain number) | -"},
    {"sin(5 K)", "4 '5 K' an angle is expected here, not a number (temperature) | -"},
    {"absolute(5 degC_diff)",
     "9 '5 degC_diff' a temperature is expected here, not a number (temperature difference) | -"},
    {"absolute(1 kPa)", "9 '1 kPa' a temperature is expected here, not a number (pressure) | -"},
    {"80 degC > 5 degC_diff",
     "0 '80 degC > 5 degC_diff' a number (temperature) and a number (temperature difference) do not go together | -"},
    {"1 rpm > 1 kPa", "0 '1 rpm > 1 kPa' a number (speed of rotation) and a number (pressure) do not go together | -"},
    {"1 % > 1 deg", "0 '1 % > 1 deg' a number (plain number) and a number (angle) do not go together | -"},
    {"1 > 1 lambda", "0 '1 > 1 lambda' a number (plain number) and a number (mixture (lambda)) do not go together | -"},
    {"tune.ignition.timing_mode > 1",
     "0 'tune.ignition.timing_mode > 1' a choice and a number (plain number) do not go together | -"},
    {"tune.ignition.timing_mode > \"fixed\"",
     "0 'tune.ignition.timing_mode > \"fixed\"' only numbers have an order, not a choice | -"},
    {"tune.ignition.timing_mode == \"fixd\"",
     "29 '\"fixd\"' tune.ignition.timing_mode cannot be 'fixd' | it is one of table, fixed"},
    {"\"fixd\" == tune.ignition.timing_mode",
     "0 '\"fixd\"' tune.ignition.timing_mode cannot be 'fixd' | it is one of table, fixed"},
    {"tune.ignition.timing_mode in [\"table\", \"fixd\"]",
     "29 '[\"table\", \"fixd\"]' tune.ignition.timing_mode cannot be 'fixd' | it is one of table, fixed"},
    {"tune.ignition.timing_mode in \"table\"", "0 'tune.ignition.timing_mode in \"table\"' 'in' tests a choice or text "
                                               "against a list of texts, not a choice against a text | -"},
    {"1 in [\"a\"]", "0 '1 in [\"a\"]' 'in' tests a choice or text against a list of texts, not a number (plain "
                     "number) against a list of texts | -"},
    {"stage == \"deliver\"", "9 '\"deliver\"' the stage cannot be 'deliver' | it is one of look, dyno, delivery"},
    {"stage in [\"look\", \"dino\"]",
     "9 '[\"look\", \"dino\"]' the stage cannot be 'dino' | it is one of look, dyno, delivery"},
    {"tune.ignition.timing_mode otherwise \"fixd\"",
     "36 '\"fixd\"' tune.ignition.timing_mode cannot be 'fixd' | it is one of table, fixed"},
    {"tune.ignition.fixed_advance otherwise 10 kPa", "0 'tune.ignition.fixed_advance otherwise 10 kPa' a number "
                                                     "(angle) and a number (pressure) do not go together | -"},
    {"true > false", "0 'true > false' only numbers have an order, not a condition | -"},
    {"true + 1", "0 'true' a number is expected here, not a condition | -"},
    {"1 and true", "0 '1' a condition is expected here, not a number (plain number) | -"},
    {"true or 1 rpm", "8 '1 rpm' a condition is expected here, not a number (speed of rotation) | -"},
    {"not 1", "4 '1' a condition is expected here, not a number (plain number) | -"},
    {"not tune.ignition.timing_mode", "4 'tune.ignition.timing_mode' a condition is expected here, not a choice | -"},
    {"\"a\" and true", "0 '\"a\"' a condition is expected here, not a text | -"},
    {"tune.inputs == tune.inputs",
     "0 'tune.inputs == tune.inputs' a set of pins and a set of pins do not go together | -"},
    {"tune.fuel.warm_up_enrichment > 100 %",
     "0 'tune.fuel.warm_up_enrichment > 100 %' a curve and a number (plain number) do not go together | -"},
    {"tune.fuel.warm_up_enrichment + 1 %",
     "0 'tune.fuel.warm_up_enrichment' a number is expected here, not a curve | -"},
    {"tune.fuel.warm_up_enrichment()", "0 'tune.fuel.warm_up_enrichment()' a curve takes 1 argument, not 0 | -"},
    {"tune.fuel.warm_up_enrichment(80 rpm)", "29 '80 rpm' the axis is in temperature, not in speed of rotation | -"},
    {"tune.fuel.warm_up_enrichment(5 degC_diff)",
     "29 '5 degC_diff' the axis is in temperature, not in temperature difference | -"},
    {"tune.fuel.warm_up_enrichment(80 degC, 1 rpm)",
     "0 'tune.fuel.warm_up_enrichment(80 degC, 1 rpm)' a curve takes 1 argument, not 2 | -"},
    {"tune.ignition.spark_advance(1 rpm)",
     "0 'tune.ignition.spark_advance(1 rpm)' a table takes 2 arguments, not 1 | -"},
    {"tune.ignition.spark_advance(100 kPa, 3000 rpm)",
     "28 '100 kPa' the axis is in speed of rotation, not in pressure | -"},
    {"tune.ignition.fixed_advance(1)",
     "0 'tune.ignition.fixed_advance' only curves and tables can be evaluated, not a number (angle) | -"},
    {"tune.ignition.fixed_advance.value", "0 'tune.ignition.fixed_advance.value' 'tune.ignition.fixed_advance.value' "
                                          "is not in the vocabulary | the nearest name is tune.ignition.fixed_advance"},
    {"mean(3)", "5 '3' a series of numbers is expected here, not a number (plain number) | -"},
    {"mean(log.fan_output)", "5 'log.fan_output' a series of numbers is expected here, not a series of conditions | -"},
    {"mean(tune.ignition.fixed_advance)",
     "5 'tune.ignition.fixed_advance' a series of numbers is expected here, not a number (angle) | -"},
    {"percentile(log.gear, 95)", "21 '95' a percentage is between 0 % and 100 % | -"},
    {"percentile(log.gear, 95 deg)", "21 '95 deg' a percentage is expected here, not a number (angle) | -"},
    {"percentile(log.gear, log.gear)",
     "21 'log.gear' a percentage is expected here, not a series of numbers (plain number) | -"},
    {"count(3)", "6 '3' a series, a list or a collection is expected here, not a number (plain number) | -"},
    {"any(true)", "4 'true' a series of conditions is expected here, not a condition | -"},
    {"any(log.gear)",
     "4 'log.gear' a series of conditions is expected here, not a series of numbers (plain number) | -"},
    {"all(3)", "4 '3' a series of conditions is expected here, not a number (plain number) | -"},
    {"duration(log.gear)",
     "9 'log.gear' a series of conditions is expected here, not a series of numbers (plain number) | -"},
    {"share(true)", "6 'true' a series of conditions is expected here, not a condition | -"},
    {"where(log.gear, log.gear)",
     "16 'log.gear' a condition is expected here, not a series of numbers (plain number) | -"},
    {"where(log.fan_output > 1, log.gear)",
     "6 'log.fan_output > 1' a series of conditions and a number (plain number) do not go together | -"},
    {"where(3, true)", "6 '3' a series is expected here, not a number (plain number) | -"},
    {"where(log.fan_output, log.gear)",
     "0 'where(log.fan_output, log.gear)' the series comes first: where(series, condition) | -"},
    {"blank(log.gear, log.fan_output)",
     "6 'log.gear' a condition is expected here, not a series of numbers (plain number) | -"},
    {"delay(3, 1 s)", "6 '3' a series is expected here, not a number (plain number) | -"},
    {"delay(log.gear, 1)", "16 '1' a time is expected here, not a number (plain number) | -"},
    {"delay(log.gear, log.time)", "16 'log.time' a time is expected here, not a series of numbers (time) | -"},
    {"smooth(log.fan_output, 1 s)",
     "7 'log.fan_output' a series of numbers is expected here, not a series of conditions | -"},
    {"rate(3)", "5 '3' a series of numbers is expected here, not a number (plain number) | -"},
    {"rate(log.fan_output)", "5 'log.fan_output' a series of numbers is expected here, not a series of conditions | -"},
    {"slope(log.gear, 3)", "16 '3' a series of numbers is expected here, not a number (plain number) | -"},
    {"slope(3, log.gear)", "6 '3' a series of numbers is expected here, not a number (plain number) | -"},
    {"intercept(log.gear, log.coolant_temperature)", "20 'log.coolant_temperature' zero of a temperature scale is "
                                                     "arbitrary; take a difference from a reference first | -"},
    {"during(log.gear, log.gear)",
     "7 'log.gear' a span of spans(...) is expected here, not a series of numbers (plain number) | -"},
    {"at(log.gear, 3)", "13 '3' a time is expected here, not a number (plain number) | -"},
    {"at(3, 1 s)", "3 '3' a series of numbers is expected here, not a number (plain number) | -"},
    {"if(1, 2, 3)", "3 '1' a condition is expected here, not a number (plain number) | -"},
    {"if(true, 1 rpm, 1 kPa)",
     "0 'if(true, 1 rpm, 1 kPa)' a number (speed of rotation) and a number (pressure) do not go together | -"},
    {"if(log.fan_output, \"a\", \"b\")", "0 'if(log.fan_output, \"a\", \"b\")' a series of texts cannot be made | -"},
    {"if(true, 1, \"b\")", "0 'if(true, 1, \"b\")' a number (plain number) and a text do not go together | -"},
    {"either(true, 1)", "13 '1' a condition is expected here, not a number (plain number) | -"},
    {"contains(3, \"a\")", "9 '3' a text is expected here, not a number (plain number) | -"},
    {"date(3)", "5 '3' a text is expected here, not a number (plain number) | -"},
    {"listed(\"a\", 3)", "12 '3' a text is expected here, not a number (plain number) | -"},
    {"known()", "0 'known()' known does not take 0 arguments | it is known(x)"},
    {"points(tune.ignition.spark_advance)",
     "7 'tune.ignition.spark_advance' a curve is expected here, not a table | -"},
    {"points(tune.fuel.warm_up_enrichment, 80 rpm)",
     "37 '80 rpm' a value of the curve's axis is expected here, not a number (speed of rotation) | -"},
    {"steps(3)", "6 '3' a curve is expected here, not a number (plain number) | -"},
    {"cells(tune.fuel.warm_up_enrichment)",
     "6 'tune.fuel.warm_up_enrichment' a table is expected here, not a curve | -"},
    {"along_x(3)", "8 '3' a table is expected here, not a number (plain number) | -"},
    {"pins(3)", "5 '3' a set of pins is expected here, not a number (plain number) | -"},
    {"pins(\"a\")", "5 '\"a\"' a set of pins is expected here, not a text | -"},
    {"spans(true, 1 s)", "6 'true' a series of conditions is expected here, not a condition | -"},
    {"spans(log.fan_output, 1)", "22 '1' a time is expected here, not a number (plain number) | -"},
    {"has(tune.inputs, 3)", "17 '3' a text is expected here, not a number (plain number) | -"},
    {"pin_of(\"a\", \"b\")", "7 '\"a\"' a set of pins is expected here, not a text | -"},
    {"thermistor(log.coolant_temperature, job.coolant_sensor.resistance, 1 kOhm)",
     "11 'log.coolant_temperature' a reading's column of temperatures is expected here, not a series of numbers "
     "(temperature) | -"},
    {"thermistor(job.coolant_sensor.temperature, job.coolant_sensor.temperature, 1 kOhm)",
     "43 'job.coolant_sensor.temperature' a reading's column of resistances is expected here, not a series of numbers "
     "(temperature) | -"},
    {"thermistor(job.coolant_sensor.temperature, job.coolant_sensor.resistance, 1 V)",
     "74 '1 V' a single resistance is expected here, not a number (voltage) | -"},
    {"thermistor(job.coolant_sensor.temperature, job.coolant_sensor.resistance, 1 Ohm, 40 degC)",
     "81 '40 degC' a temperature difference is expected here, not a number (temperature) | -"},
    {"thermistor(job.coolant_sensor.temperature, job.intake_air_sensor.resistance, 1 Ohm)",
     "0 'thermistor(job.coolant_sensor.temperature, job.intake_air_sensor.resistance, 1 Ohm)' series over different "
     "rows do not go together: the log, each reading and each collection have their own | -"},
    {"thermistor_curve(job.coolant_sensor.temperature, job.coolant_sensor.resistance, tune.fuel.warm_up_enrichment, 1 "
     "K)",
     "80 'tune.fuel.warm_up_enrichment' a curve from resistance to temperature is expected here, not a curve | -"},
    {"thermistor_curve(job.coolant_sensor.temperature, job.coolant_sensor.resistance, "
     "tune.sensor.coolant_voltage_calibration, 1 K, 1 Ohm)",
     "0 'thermistor_curve(job.coolant_sensor.temperature, job.coolant_sensor.resistance, "
     "tune.sensor.coolant_voltage_calibration, 1 K, 1 Ohm)' a curve against volts needs the pull-up resistance and the "
     "supply | -"},
    {"first_x(3)", "8 '3' a curve or table is expected here, not a number (plain number) | -"},
    {"first_y(tune.fuel.warm_up_enrichment)",
     "8 'tune.fuel.warm_up_enrichment' a table is expected here, not a curve | -"},
    {"ramp(1, 2 s, 0, 1)", "5 '1' a time is expected here, not a number (plain number) | -"},
    {"ramp(1 s, 2 s, 0 rpm, 1 kPa)",
     "0 'ramp(1 s, 2 s, 0 rpm, 1 kPa)' a number (speed of rotation) and a number (pressure) do not go together | -"},
    {"ramp(1 s, 2 s, log.gear, 1)", "0 'ramp(1 s, 2 s, log.gear, 1)' the ends of a ramp are single values | -"},
    {"noise(1 deg)", "6 '1 deg' a number without unit is expected here, not a number (angle) | -"},
    {"noise(\"a\")", "6 '\"a\"' a number without unit is expected here, not a text | -"},
    {"max(1 rpm, 1 kPa)", "11 '1 kPa' a number (speed of rotation) and a number (pressure) do not go together | -"},
    {"max(1 rpm, \"a\")", "11 '\"a\"' a number is expected here, not a text | -"},
    {"min(true)", "4 'true' a number is expected here, not a condition | -"},
    {"max(80 degC, 5 degC_diff)",
     "13 '5 degC_diff' a number (temperature) and a number (temperature difference) do not go together | -"},
    {"log.gear + job.coolant.measured", "0 'log.gear + job.coolant.measured' a series of numbers (plain number) and a "
                                        "series of numbers (temperature) cannot be added | -"},
    {"log.coolant_temperature - job.coolant.measured",
     "0 'log.coolant_temperature - job.coolant.measured' series over different rows do not go together: the log, "
     "each reading and each collection have their own | -"},
    {"job.lambda_gauge.logged - job.coolant.measured * 0",
     "26 'job.coolant.measured' a temperature cannot be multiplied or divided; take a difference from a reference "
     "first | -"},
    {"delay(job.coolant.measured, 1 s)", "0 'delay(job.coolant.measured, 1 s)' delay goes by the time of the log, "
                                         "which a reading or collection does not have | -"},
    {"duration(job.coolant.measured > 80 degC)", "0 'duration(job.coolant.measured > 80 degC)' duration goes by the "
                                                 "time of the log, which a reading or collection does not have | -"},
    {"if(log.fan_output, job.coolant.measured, 80 degC)",
     "0 'if(log.fan_output, job.coolant.measured, 80 degC)' series over different rows do not go together: the log, "
     "each reading and each collection have their own | -"},
    {"mean(axis_steps())", "5 'axis_steps()' a series of numbers is expected here, not a collection | -"},
    {"tune.engine.firing_order > tune.engine.firing_order",
     "0 'tune.engine.firing_order > tune.engine.firing_order' a list of numbers and a list of numbers do not go "
     "together | -"},
    {"tune.engine.firing_order == tune.ignition.cylinder_trim",
     "0 'tune.engine.firing_order == tune.ignition.cylinder_trim' a list of numbers and a list of numbers do not go "
     "together | -"},
    {"tune.nope + log.nope",
     "0 'tune.nope' 'tune.nope' is not in the vocabulary | -\n12 'log.nope' 'log.nope' is not in the vocabulary | -"},
    {"true(1)", "0 'true' only curves and tables can be evaluated, not a condition | -"},
    {"stage(1)", "0 'stage' only curves and tables can be evaluated, not a text | -"},
    {"1 rpm +\n  1 kPa",
     "0 '1 rpm +\n  1 kPa' a number (speed of rotation) and a number (pressure) cannot be added | -"},
    {"\"€\" == 1 rpm", "0 '\"€\" == 1 rpm' a text and a number (speed of rotation) do not go together | -"},
    {"1 rpm > 2 € 3", "10 '€' unknown unit '€' | -"},
    {"1e999 rpm + 2 rpm", "0 '1e999' this number is too large | -"},
    {"highest(1 rpm, over x from 1 rpm to 2 kPa)",
     "27 '1 rpm to 2 kPa' a number (speed of rotation) and a number (pressure) do not go together | -"},
    {"highest(x + x, over x from log.engine_speed to 2 rpm)",
     "27 'log.engine_speed' the ends of a range are single values | -"},
    {"highest(x + x, over x from tune.nope to 2 rpm)", "27 'tune.nope' 'tune.nope' is not in the vocabulary | -"},
    {"\"deliver\" == stage", "0 '\"deliver\"' the stage cannot be 'deliver' | it is one of look, dyno, delivery"},
    {"percentile(log.gear, 100.1 %)", "21 '100.1 %' a percentage is between 0 % and 100 % | -"},
};

static const char *said(struct bench *bench, const char *text)
{
  const char *out = "";
  for (size_t i = 0; i < bench->problems.count; i++) {
    const struct problem *problem = &bench->problems.items[i];
    size_t size = strlen(text), from = (size_t)problem->place.start, to = (size_t)problem->place.end;
    assert_true(from <= size && to > from); /* one past the end marks where something is missing */
    struct slice marked = slice_part(slice_of(text), from, to < size ? to : size);
    out = arena_print(bench->arena, "%s%s%zu '%.*s' %s | %s", out, i == 0 ? "" : "\n", from, SLICE_ARG(marked),
                      problem->message, problem->hint ? problem->hint : "-");
  }
  return out;
}

static const char *const limits = "limits:\n"
                                  "  warm_up_end: {value: 80 degC, step: 1 degC_diff, basis: derived, why: none}\n";

static void wrong_expressions_are_refused_with_their_place(void **state)
{
  struct bench bench = bench_new(state, (struct given){.limits = limits});
  size_t rows = sizeof wrong / sizeof *wrong;
  assert_true(rows >= 60);
  for (size_t i = 0; i < rows; i++) {
    if (bench_compile(&bench, wrong[i].text, NULL))
      fail_msg("accepted: %s", wrong[i].text);
    const char *got = said(&bench, wrong[i].text);
    if (strcmp(got, wrong[i].said) != 0)
      fail_msg("%s\n    says %s\n    not  %s", wrong[i].text, got, wrong[i].said);
  }
  bench_free(&bench);
}

/* Every mistake that stands apart is told, in one go. */
static void all_mistakes_are_told(void **state)
{
  struct bench bench = bench_new(state, (struct given){.limits = limits});
  assert_null(bench_compile(&bench, "abs(tune.nope) + mean(3) > log.nope and foo(1) or 80 degC * 2 > 1 K", NULL));
  assert_int_equal(bench.problems.count, 5);
  bench_free(&bench);
}

/* A `let` of a wrong type is told where it is used, by the bytes of the use. */
static void bound_names(void **state)
{
  struct bench bench = bench_new(state, (struct given){.limits = limits});
  const struct expr *value = bench_compile(&bench, "tune.fuel.warm_up_enrichment", NULL);
  assert_non_null(value);
  struct scope_chain link = {slice_of("curve"), value, *expr_type(value), NULL};
  assert_non_null(bench_compile(&bench, "curve(80 degC) > 100 %", &link));
  assert_null(bench_compile(&bench, "1 + curve", &link));
  assert_string_equal(said(&bench, "1 + curve"), "4 'curve' a number is expected here, not a curve | -");
  assert_null(bench_compile(&bench, "curve.x > 1", &link));
  assert_string_equal(said(&bench, "curve.x > 1"), "0 'curve.x' a curve has no field 'x' | -");
  const struct expr *points = bench_compile(&bench, "points(tune.fuel.warm_up_enrichment)", NULL);
  assert_non_null(points);
  struct scope_chain item = {slice_of("p"), NULL, {.kind = TYPE_ITEM, .item = expr_type(points)->item}, &link};
  assert_non_null(bench_compile(&bench, "curve(p.x) == p.value", &item));
  assert_null(bench_compile(&bench, "p.val > 1", &item));
  assert_string_equal(said(&bench, "p.val > 1"), "0 'p.val' this item has no field 'val' | it has .x .value");
  assert_null(bench_compile(&bench, "p > 1", &item));
  assert_string_equal(said(&bench, "p > 1"), "0 'p > 1' an item and a number (plain number) do not go together | -");
  assert_null(bench_compile(&bench, "p.x.y > 1", &item));
  assert_string_equal(said(&bench, "p.x.y > 1"), "0 'p.x.y' a number (temperature) has no field 'y' | -");
  bench_free(&bench);
}

/* The numbers of axis_steps() are of any unit: for messages only. */
static void numbers_of_any_unit(void **state)
{
  struct bench bench = bench_new(state, (struct given){.limits = limits});
  const struct expr *steps = bench_compile(&bench, "axis_steps()", NULL);
  assert_non_null(steps);
  struct scope_chain item = {slice_of("a"), NULL, {.kind = TYPE_ITEM, .item = expr_type(steps)->item}, NULL};
  static const char *const refused[] = {"a.from > 1",     "a.from < a.to",      "a.from + a.to",
                                        "-a.from",        "abs(a.from)",        "max(a.from, a.to)",
                                        "a.from == a.to", "a.from otherwise 1", "if(true, a.from, a.to)"};
  for (size_t i = 0; i < sizeof refused / sizeof *refused; i++) {
    if (bench_compile(&bench, refused[i], &item))
      fail_msg("accepted: %s", refused[i]);
  }
  assert_non_null(bench_compile(&bench, "a.from", &item));
  bench_free(&bench);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(wrong_expressions_are_refused_with_their_place),
      cmocka_unit_test(all_mistakes_are_told),
      cmocka_unit_test(bound_names),
      cmocka_unit_test(numbers_of_any_unit),
  };
  return cmocka_run_group_tests_name("expr check", tests, dictionary_open, dictionary_close);
}
