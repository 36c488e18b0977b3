/* text/record.h: what each shape gives, path by path and place by place, as rules/ADAPTERS.md section 1 says. Quotes in
 * tables: RFC 4180, section 2; JSON: RFC 8259; XML: XML 1.0, fifth edition. Everything else is the project's own. */
#include "records.h"

static void lines_give_names_and_values(void **state)
{
  (void)state;
  static const struct records_case cases[] = {
      {SHAPE_LINES, "", ""},
      {SHAPE_LINES, "a=1", "1:3 a = 1\n"},
      {SHAPE_LINES, "; note\nTitle = Tern box \n\n[Engine]\n  # note\n Cylinders\t=  4 ; four\n",
       "2:9 Title = Tern box\n6:15 Engine/Cylinders = 4 ; four\n"},
      {SHAPE_LINES, "[A b]\nx = y = z\n[]\nx=1\n", "2:5 A b/x = y = z\n4:3 /x = 1\n"},
      {SHAPE_LINES, "empty =\n = 5\nx = 1", "2:2 (line) = = 5\n3:5 x = 1\n"},
      {SHAPE_LINES, "------\n[T]\n=====\n+-+-+\n\xc2\xb0\n", "5:1 T/(line) = \xc2\xb0\n"},
      /* repeats */
      {SHAPE_LINES, "x=1\nx=2\n[S]\nx=3\nx=4\nx=5\n[S]\nx=6\n[T]\nx=7\n",
       "1:3 x = 1\n2:3 x#2 = 2\n4:3 S/x = 3\n5:3 S/x#2 = 4\n6:3 S/x#3 = 5\n8:3 S#2/x = 6\n10:3 T/x = 7\n"},
      /* without the separator */
      {SHAPE_LINES, "[Map]\nRPM 500 1000\nLoad axis  -30 .5\n10 12\n -3 4\nFirmware v1.2\nfree words\n",
       "2:5 Map/RPM = 500 1000\n3:12 Map/Load axis = -30 .5\n4:1 Map/(line) = 10 12\n5:2 Map/(line)#2 = -3 4\n"
       "6:1 Map/(line)#3 = Firmware v1.2\n7:1 Map/(line)#4 = free words\n"},
  };
  RECORDS_COMPARE(cases);
}

static void lines_keep_to_their_style(void **state)
{
  (void)state;
  struct run run = run_new();
  struct slice comments[] = {slice_of("//"), slice_of("*")};
  const char *why = NULL;
  size_t at = 0;
  struct pattern *section = pattern_compile(run.arena, slice_of("^== (?:page )?(.*?) ==$"), &why, &at);
  struct record_style style = {.shape = SHAPE_LINES, .comment_count = 2, .comments = comments, .section = section};
  style.separator = slice_of(" := ");
  struct source *source = records_source(&run, slice_of("* x := 1\n// y := 2\n# z := 3\n== page Fuel ==\na:b := c\n"));
  assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style), "3:8 # z = 3\n5:8 Fuel/a:b = c\n");
  style.section = NULL;
  style.separator = slice_of(" ");
  source = records_source(&run, slice_of("RPM   500\t1000\nLoad\t30 60\nalone\n[x] 5\n"));
  assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style),
                      "1:7 RPM = 500\t1000\n2:6 Load = 30 60\n3:1 (line) = alone\n4:5 [x] = 5\n");
  pattern_free(section);
  run_free(&run);
}

/* A pattern without a group: the whole match is the name. */
static void a_costly_section_pattern_is_refused(void **state)
{
  (void)state;
  struct run run = run_new();
  const char *why = NULL;
  size_t at = 0;
  struct pattern *section = pattern_compile(run.arena, slice_of("^(?:a+)+$"), &why, &at);
  struct record_style style = record_style_usual(run.arena, SHAPE_LINES);
  style.section = section;
  struct source *source = records_source(&run, slice_of("x=1\naaaa\ny=1\naaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaab\n"));
  assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style),
                      "4:1 'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaab' the pattern for sections, '^(?:a+)+$', takes too "
                      "many steps in this line | -");
  source->bytes = slice_of("x=1\naaaa\ny=1\n");
  run.problems.count = 0;
  assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style), "1:3 x = 1\n3:3 aaaa/y = 1\n");
  pattern_free(section);
  run_free(&run);
}

static void tables_give_cells(void **state)
{
  (void)state;
  static const struct records_case cases[] = {
      {SHAPE_TABLE, "Rev limit,7200,rpm\n", "1:11 Rev limit/1 = 7200\n1:16 Rev limit/2 = rpm\n"},
      {SHAPE_TABLE, "# note\n; note\n\n,,\nMap,,\n,500, 1000 \n30,10,\n60,,12\n",
       "6:2 Map//1 = 500\n6:7 Map//2 = 1000\n7:4 Map/30/1 = 10\n8:5 Map/60/2 = 12\n"},
      /* titles and rows that repeat; a title need not stand in the first column; a lone number is no title */
      {SHAPE_TABLE, "A\nr,1\nr,2\n,,A,\nr,3\n,4\n,5,\n",
       "2:3 A/r/1 = 1\n3:3 A/r#2/1 = 2\n5:3 A#2/r/1 = 3\n6:2 A#2//1 = 4\n7:2 A#2/#2/1 = 5\n"},
      /* RFC 4180, section 2, rules 5 to 7 */
      {SHAPE_TABLE, "\"aaa\",\"b \r\nbb\",\"c\"\"cc\"\r\n zzz , \"y,y\" ,5\" pipe\r\n",
       "1:8 aaa/1 = b \r\nbb\n2:6 aaa/2 = c\"cc\n3:9 zzz/1 = y,y\n3:15 zzz/2 = 5\" pipe\n"},
      {SHAPE_TABLE, "a,\"\",\" \",\"\"\"\"\n", "1:11 a/3 = \"\n"},
      {SHAPE_TABLE, "a,\"b\nc\n", "1:3 '\"' this quote is never closed | -"},
      {SHAPE_TABLE, "a,\"b\" c\n",
       "1:7 'c' a delimiter or the end of the line is expected after the closing quote | -"},
  };
  RECORDS_COMPARE(cases);
}

static void tables_have_any_delimiter(void **state)
{
  (void)state;
  static const struct {
    char delimiter;
    const char *bytes, *records;
  } cases[] = {
      {'\t', "a\t1\t\t3 4\n\t5\t6\n", "1:3 a/1 = 1\n1:6 a/3 = 3 4\n2:2 /1 = 5\n2:4 /2 = 6\n"},
      /* ";" starts a comment in other tables */
      {';', ";500;1000\n30;1,5;\"2;5\"\n#x;1\n", "1:2 /1 = 500\n1:6 /2 = 1000\n2:4 30/1 = 1,5\n2:9 30/2 = 2;5\n"},
      {'|', "| a | 1 |\n| 2 |\n", "1:3 /1 = a\n1:7 /2 = 1\n2:3 #2/1 = 2\n"},
      {' ', "  RPM 500\t 1000  \n30 1 \"2 3\"\n Map \n40 1\n",
       "1:7 RPM/1 = 500\n1:12 RPM/2 = 1000\n2:4 30/1 = 1\n2:7 30/2 = 2 3\n4:4 Map/40/1 = 1\n"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    struct run run = run_new();
    struct record_style style = record_style_usual(run.arena, SHAPE_TABLE);
    style.delimiter = cases[i].delimiter;
    struct source *source = records_source(&run, slice_of(cases[i].bytes));
    assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style), cases[i].records);
    run_free(&run);
  }
}

static void tables_have_fixed_widths(void **state)
{
  (void)state;
  static const size_t widths[] = {6, 5, 5};
  static const struct {
    const char *bytes, *records;
  } cases[] = {
      {"Rev     72\n", "1:9 Rev/1 = 72\n"},
      {"; x\n      500  1000 2000\n30      1.5 22.5    3\n",
       "2:7 /1 = 500\n2:12 /2 = 1000\n2:17 /3 = 2000\n3:9 30/1 = 1.5\n3:13 30/2 = 22.5\n3:21 30/3 = 3\n"},
      /* packed numbers; characters of two bytes */
      {"x     1234567890\n", "1:7 x/1 = 12345\n1:12 x/2 = 67890\n"},
      {"\xc3\xa4\xc3\xb6\xc2\xb0   1 \xc2\xb0  2\n", "1:7 \xc3\xa4\xc3\xb6\xc2\xb0/1 = 1 \xc2\xb0\n"
                                                     "1:12 \xc3\xa4\xc3\xb6\xc2\xb0/2 = 2\n"},
      /* a title over the columns' edges */
      {"Ignition advance\n30    1\nIgnite\n40    2\n", "2:7 Ignition advance/30/1 = 1\n4:7 Ignite/40/1 = 2\n"},
      {"30", ""},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    struct run run = run_new();
    struct record_style style = record_style_usual(run.arena, SHAPE_TABLE);
    style.delimiter = '\0';
    style.width_count = 3;
    style.widths = widths;
    struct source *source = records_source(&run, slice_of(cases[i].bytes));
    assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style), cases[i].records);
    run_free(&run);
  }
}

static void xml_gives_texts_and_attributes(void **state)
{
  (void)state;
  static const struct records_case cases[] = {
      {SHAPE_XML, "<a/>", ""},
      {SHAPE_XML, "<?xml version=\"1.0\" encoding=\"UTF-16\"?>\n<t>\n <limit>7200</limit>\n</t>\n",
       "3:9 t/limit = 7200\n"},
      {SHAPE_XML, "<t v = '3'  w=\"a'b\"\n x=\" c\td \" y=''>5</t>",
       "1:9 t/@v = 3\n1:16 t/@w = a'b\n2:6 t/@x = c d\n"
       "2:17 t = 5\n"},
      {SHAPE_XML, "<t><row>1</row><row/><row>3</row><r:x>4</r:x></t>",
       "1:9 t/row = 1\n1:27 t/row#3 = 3\n1:39 t/r:x = 4\n"},
      /* a level's repeats are its own */
      {SHAPE_XML, "<t><m><r>1</r></m><m><r>2</r><r>3</r></m></t>",
       "1:10 t/m/r = 1\n1:25 t/m#2/r = 2\n1:33 t/m#2/r#2 = 3\n"},
      /* references (section 4.6), character data in sections (2.7), comments (2.5), instructions (2.6) */
      {SHAPE_XML, "<t a='&lt;&#xe4;&quot;'>&lt;a &amp;&amp; b&gt; &#228;</t>",
       "1:7 t/@a = <\xc3\xa4\"\n"
       "1:25 t = <a && b> \xc3\xa4\n"},
      {SHAPE_XML, "<t> <![CDATA[ <a> & ]]> </t>", "1:15 t = <a> &\n"},
      {SHAPE_XML, "<t>1<!-- <x> -->2<?y z?>3</t>", "1:4 t = 123\n"},
      /* mixed content is joined; records stand in the order of places */
      {SHAPE_XML, "<t>\n one <b>two</b> \n\n three<i/>four\n</t>", "2:2 t = one three four\n2:9 t/b = two\n"},
      {SHAPE_XML, "<t>10 12\n 14 16\n</t>", "1:4 t = 10 12\n 14 16\n"},
      {SHAPE_XML, "<t><\xc3\xa4>\xc2\xb0 1</\xc3\xa4><b>2</b></t>", "1:7 t/\xc3\xa4 = \xc2\xb0 1\n1:17 t/b = 2\n"},
  };
  RECORDS_COMPARE(cases);
}

static void steps_carry_names(void **state)
{
  (void)state;
  static const struct records_case cases[] = {
      {SHAPE_XML,
       "<t><s unit='rpm' name='Rev &amp; limit'>7200</s><s id='5'>1</s><s key=' k '>2</s><s id='5'>3</s></t>",
       "1:13 t/s:Rev & limit/@unit = rpm\n1:41 t/s:Rev & limit = 7200\n1:59 t/s:5 = 1\n1:77 t/s:k = 2\n"
       "1:92 t/s:5#2 = 3\n"},
      /* the first of the keys counts, and only when it says something */
      {SHAPE_XML, "<t><s id='1' name='n' v='2'/><s id='3' name=' ' v='4'/></t>",
       "1:11 t/s:n/@id = 1\n1:26 t/s:n/@v = 2\n1:52 t/s:3/@v = 4\n"},
      /* a key that would be lost is a record */
      {SHAPE_XML, "<t><pin id='IN3'/><s name='a'><v x='1'/></s><s name='b'></s></t>",
       "1:13 t/pin:IN3/@id = IN3\n1:37 t/s:a/v/@x = 1\n1:54 t/s:b/@name = b\n"},
      {SHAPE_JSON,
       "{\"rev\": {\"unit\": \"rpm\", \"name\": \"Rev limit\", \"v\": 7200},\n"
       " \"list\": [{\"id\": 5, \"v\": 1}, {\"id\": 5, \"v\": 2}, {\"key\": \"only\"}, {\"name\": null, \"v\": 3}]}",
       "1:19 rev:Rev limit/unit = rpm\n1:51 rev:Rev limit/v = 7200\n2:26 list/:5/v = 1\n2:45 list/:5#2/v = 2\n"
       "2:58 list/:only/key = only\n2:86 list/4/v = 3\n"},
      {SHAPE_YAML, "- name: Rev limit\n  v: 7200\n- {v: [1, 2], id: 'x'}\n- name: {a: 1}\n",
       "2:6 :Rev limit/v = 7200\n3:8 :x/v/1 = 1\n3:11 :x/v/2 = 2\n4:13 3/name/a = 1\n"},
  };
  RECORDS_COMPARE(cases);
  struct run run = run_new();
  struct record_style style = record_style_usual(run.arena, SHAPE_XML);
  style.key_count = 0;
  struct source *source = records_source(&run, slice_of("<t name='x'>1</t>"));
  assert_string_equal(records_of(&run, source, ENCODING_AUTO, &style), "1:10 t/@name = x\n1:13 t = 1\n");
  run_free(&run);
}

static void json_gives_scalars(void **state)
{
  (void)state;
  static const struct records_case cases[] = {
      {SHAPE_JSON, "{}", ""},
      {SHAPE_JSON, " [ ]\n", ""},
      {SHAPE_JSON, "\t7200 ", "1:2  = 7200\n"},
      /* RFC 8259, section 13, the first example */
      {SHAPE_JSON,
       "{\n  \"Image\": {\n      \"Width\":  800,\n      \"Height\": 600,\n      \"Title\":  \"View from 15th "
       "Floor\",\n      \"Thumbnail\": {\n          \"Url\":    \"http://www.example.com/image/481989943\",\n"
       "          \"Height\": 125,\n          \"Width\":  100\n      },\n      \"Animated\" : false,\n"
       "      \"IDs\": [116, 943, 234, 38793]\n    }\n}\n",
       "3:17 Image/Width = 800\n4:17 Image/Height = 600\n5:18 Image/Title = View from 15th Floor\n"
       "7:22 Image/Thumbnail/Url = http://www.example.com/image/481989943\n8:21 Image/Thumbnail/Height = 125\n"
       "9:21 Image/Thumbnail/Width = 100\n11:20 Image/Animated = false\n12:15 Image/IDs/1 = 116\n"
       "12:20 Image/IDs/2 = 943\n12:25 Image/IDs/3 = 234\n12:30 Image/IDs/4 = 38793\n"},
      /* section 7: escapes, and its own pair for U+1D11E */
      {SHAPE_JSON, "[\"\\ud834\\udd1e\", \"a\\/\\\\\\\"\", \" \\u00e4\\u20AC \", \"\\n\", \"a\\tb\"]",
       "1:3 1 = \xf0\x9d\x84\x9e\n1:19 2 = a/\\\"\n1:31 3 = \xc3\xa4\xe2\x82\xac\n1:54 5 = a\tb\n"},
      {SHAPE_JSON, "{\"a\":-1.5e-3,\"b\":null,\"c\":\"\",\"d\":true,\"e\":NaN,\"\":1,\"a\":2,}",
       "1:6 a = -1.5e-3\n1:34 d = true\n1:43 e = NaN\n1:50  = 1\n1:56 a#2 = 2\n"},
      {SHAPE_JSON, "[[1,[2]],\r\n\t{\"a\"\n:\n3}]", "1:3 1/1 = 1\n1:6 1/2/1 = 2\n4:1 2/a = 3\n"},
      /* wrong ones */
      {SHAPE_JSON, "", "1:1 '' the file holds nothing | -"},
      {SHAPE_JSON, "{\"a\" 1}", "1:6 '1' a colon is expected after the name | -"},
      {SHAPE_JSON, "{a: 1}", "1:2 'a' a name in double quotes is expected here | -"},
      {SHAPE_JSON, "{\n\"a\": 1\n\"b\": 2}",
       "3:1 '\"' a comma or the closing '}' is missing here | the '{' that is open here is in line 1"},
      {SHAPE_JSON, "[1, [2, 3]",
       "1:11 '' a comma or the closing ']' of the list is missing here | the '[' that is open here is in line 1"},
      {SHAPE_JSON, "{\"a\": }", "1:7 '}' a value is expected here | -"},
      {SHAPE_JSON, "{\"a\":", "1:6 '' a value is missing at the end of the file | -"},
      {SHAPE_JSON, "{\"a\": \"x\n\"}", "1:7 '\"' this quote is not closed on its line | -"},
      {SHAPE_JSON, "[\"\\", "1:2 '\"' this quote is not closed on its line | -"},
      {SHAPE_JSON, "[1]\n[2]", "2:1 '[' this stands after the end of the only value that a file holds | -"},
      {SHAPE_JSON, "// x\n[1]", "1:1 '/' a value is expected here | -"},
      {SHAPE_JSON, "[\xc3\xa4]", "1:2 '\xc3\xa4' a value is expected here | -"},
  };
  RECORDS_COMPARE(cases);
  static const char *const escapes[] = {
      "[\"ab\\q\"]",        "[\"ab\\u12\"]",   "[\"ab\\u00g0\"]",        "[\"ab\\ud834\"]",
      "[\"ab\\ud834\\n\"]", "[\"ab\\udd1e\"]", "[\"ab\\ud834\\u0041\"]", "[\"ab\\u0000\"]"};
  for (size_t i = 0; i < sizeof escapes / sizeof *escapes; i++) {
    struct run run = run_new();
    struct record_style style = record_style_usual(run.arena, SHAPE_JSON);
    assert_string_equal(records_of(&run, records_source(&run, slice_of(escapes[i])), ENCODING_AUTO, &style),
                        "1:5 '\\' a backslash here starts an escape that does not exist, or names no character | -");
    run_free(&run);
  }
}

static void yaml_gives_scalars(void **state)
{
  (void)state;
  static const struct records_case cases[] = {
      {SHAPE_YAML, "a: 1\nb:\n  'c d': \"x \\\"y\\\"\"\n  e: [1, ~, null, '', 'null', 4]\n",
       "1:4 a = 1\n3:11 b/c d = x \"y\"\n4:7 b/e/1 = 1\n4:24 b/e/5 = null\n4:31 b/e/6 = 4\n"},
      {SHAPE_YAML, "text: |\n  one\n  two\nlast: ' padded '\n", "2:3 text = one\ntwo\n4:9 last = padded\n"},
      {SHAPE_YAML, "a: 1\na: 2\n", "2:1 'a' 'a' is here a second time | the first one is in line 1"},
      {SHAPE_YAML, "a: &x 1\n",
       "1:4 '&x' an anchor ('&') is not accepted here | text that starts with '&' needs quotes"},
  };
  RECORDS_COMPARE(cases);
}

static void wrong_xml_says_where(void **state)
{
  (void)state;
  static const struct records_case cases[] = {
      {SHAPE_XML, "", "1:1 '' the file holds no XML element | -"},
      {SHAPE_XML, "<a>\n<b>1", "2:5 '' the file ends before all elements are closed | -"},
      {SHAPE_XML, "<a>\n<b>1</a>", "2:7 'a' this closes another element than the one that is open | -"},
      {SHAPE_XML, "<a>1 & 2</a>",
       "1:7 ' ' this character cannot stand here in XML | a plain '&' is written '&amp;', a plain "
       "'<' is written '&lt;'"},
      {SHAPE_XML, "<a>\n&deg;</a>", "2:1 '&' an entity that nothing defines | a plain '&' is written '&amp;'"},
      {SHAPE_XML, "<a b='1' b='2'/>", "1:10 'b' an attribute is here a second time | -"},
      {SHAPE_XML, " <?xml version='1.0'?><a/>", "1:2 '<' '<?xml' must be the very first of the file | -"},
      {SHAPE_XML, "<a>1</a><b/>", "1:9 '<' this is not XML: junk after document element | -"},
      {SHAPE_XML, "<a><!-- x", "1:4 '<' what starts here is never closed | -"},
  };
  RECORDS_COMPARE(cases);
}

static void shapes_have_names(void **state)
{
  (void)state;
  for (enum record_shape i = SHAPE_LINES; i < SHAPE_COUNT; i++) {
    enum record_shape found = SHAPE_COUNT;
    assert_true(shape_find(slice_of(shape_name(i)), &found));
    assert_int_equal(found, i);
  }
  enum record_shape none;
  assert_false(shape_find(slice_of("xlsx"), &none));
  assert_false(shape_find(slice_of(""), &none));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(lines_give_names_and_values),
      cmocka_unit_test(lines_keep_to_their_style),
      cmocka_unit_test(a_costly_section_pattern_is_refused),
      cmocka_unit_test(tables_give_cells),
      cmocka_unit_test(tables_have_any_delimiter),
      cmocka_unit_test(tables_have_fixed_widths),
      cmocka_unit_test(xml_gives_texts_and_attributes),
      cmocka_unit_test(steps_carry_names),
      cmocka_unit_test(json_gives_scalars),
      cmocka_unit_test(yaml_gives_scalars),
      cmocka_unit_test(wrong_xml_says_where),
      cmocka_unit_test(shapes_have_names),
  };
  return cmocka_run_group_tests_name("text/record", tests, NULL, NULL);
}
