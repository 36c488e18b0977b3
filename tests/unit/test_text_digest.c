/* SHA-256 against the example values of FIPS 180-4 (as published with it by NIST: "abc", the empty text, and the
 * 56-byte text). */
#include "text/digest.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void published_values(void **state)
{
  (void)state;
  static const char *const rows[][2] = {
      {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
      {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
      {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
       "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
  };
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    char out[65];
    digest_sha256(slice_of(rows[i][0]), out);
    assert_string_equal(out, rows[i][1]);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(published_values)};
  return cmocka_run_group_tests_name("text digest", tests, NULL, NULL);
}
