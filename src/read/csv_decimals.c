/* Reading order: csv_shape_new, then the takers: take_plainly says what take_by_4 does with four rows at once. */
#include "read/csv_decimals.h"

#include "base/number_short.h"

#if defined(__x86_64__)
#include <immintrin.h>
#endif

#define LENGTH_MOST 8

struct csv_shape csv_shape_new(uint8_t decimals, char sign)
{
  struct csv_shape shape = {.decimals = decimals, .lift = 0x7676767676767676u, .fraction = ~(uint64_t)0};
  if (decimals > 0) {
    unsigned at = 8u * (7u - decimals);
    shape.point = (uint64_t)(unsigned char)(sign ^ '0') << at;
    shape.lift |= (uint64_t)0x7f << at;
    shape.whole = ((uint64_t)1 << at) - 1;
    shape.fraction = ~(shape.whole | (uint64_t)0xff << at);
  }
  return shape;
}

static inline void widen(struct csv_extent *extent, int64_t number)
{
  extent->least = number < extent->least ? number : extent->least;
  extent->most = number > extent->most ? number : extent->most;
}

static inline size_t take_rows(const struct csv_shape *shape, const struct csv_column_cells *cells, size_t from,
                               size_t rows, int64_t *number, struct csv_extent *extent)
{
  const struct csv_shape s = *shape;
  const uint32_t *end = cells->ends + from * cells->stride;
  struct csv_extent all = *extent;
  size_t taken = 0;
  for (; taken < rows; taken++, end += cells->stride) {
    uint32_t start = end[-1] + 1, length = *end - start - cells->trim;
    const char *text = cells->text + start;
    uint64_t minus = *text == '-', word = number_word(text + minus) ^ NUMBER_ZEROS;
    length -= (uint32_t)minus;
    if (length - s.decimals - 1u >= LENGTH_MOST - (uint32_t)s.decimals)
      break;
    word = (word << (64 - 8 * length)) ^ s.point;
    if (((word + s.lift) | word) & NUMBER_TOPS)
      break;
    word = (word & s.fraction) | (word & s.whole) << 8;
    int64_t value = (int64_t)((number_eight(word) ^ (0 - minus)) + minus);
    number[taken] = value;
    widen(&all, value);
  }
  *extent = all;
  return taken;
}

static size_t take_plainly(const struct csv_shape *shape, const struct csv_column_cells *cells, size_t from,
                           int64_t *number, struct csv_extent *extent)
{
  return take_rows(shape, cells, from, cells->rows - from, number, extent);
}

#if defined(__x86_64__)

#define AVX2 __attribute__((target("avx2")))

AVX2 static inline __m256i load_4(const void *a, const void *b, const void *c, const void *d)
{
  __m128i low = _mm_unpacklo_epi64(_mm_loadl_epi64(a), _mm_loadl_epi64(b));
  __m128i high = _mm_unpacklo_epi64(_mm_loadl_epi64(c), _mm_loadl_epi64(d));
  return _mm256_inserti128_si256(_mm256_castsi128_si256(low), high, 1);
}

AVX2 static inline __m256i each(uint64_t value)
{
  return _mm256_set1_epi64x((long long)value);
}

AVX2 static void widen_4(struct csv_extent *extent, __m256i least, __m256i most)
{
  int64_t low[4], high[4];
  _mm256_storeu_si256((__m256i *)(void *)low, least);
  _mm256_storeu_si256((__m256i *)(void *)high, most);
  for (int i = 0; i < 4; i++) {
    widen(extent, (int32_t)low[i]);
    widen(extent, (int32_t)high[i]);
  }
}

AVX2 static size_t take_by_4(const struct csv_shape *shape, const struct csv_column_cells *cells, size_t from,
                             int64_t *number, struct csv_extent *extent)
{
  const size_t stride = cells->stride, rows = cells->rows - from;
  const uint32_t *end = cells->ends + from * stride;
  const char *text = cells->text;
  const __m256i zeros = each(NUMBER_ZEROS), tops = each(NUMBER_TOPS), low_half = each(UINT32_MAX),
                low_byte = each(0xff);
  const __m256i point = each(shape->point), lift = each(shape->lift), whole = each(shape->whole),
                fraction = each(shape->fraction);
  const __m256i dash = each('-' ^ '0'), around = each(1 + cells->trim), needed = each(shape->decimals + 1u),
                most_length = each(LENGTH_MOST);
  const __m256i tens = _mm256_set1_epi16(0x010a), hundreds = _mm256_set1_epi32(0x00010064), thousands = each(10000);
  __m256i least = _mm256_set1_epi32(INT32_MAX), most = _mm256_set1_epi32(INT32_MIN);
  size_t taken = 0;
  for (; taken + 4 <= rows; taken += 4, end += 4 * stride) {
    const uint32_t *second = end + stride, *third = second + stride, *fourth = third + stride;
    __m256i word = load_4(text + (uint32_t)(end[-1] + 1), text + (uint32_t)(second[-1] + 1),
                          text + (uint32_t)(third[-1] + 1), text + (uint32_t)(fourth[-1] + 1));
    __m256i bounds = load_4(end - 1, second - 1, third - 1, fourth - 1);
    /* Modulo 2^32, as the byte before the text is UINT32_MAX. */
    __m256i length = _mm256_and_si256(_mm256_sub_epi32(_mm256_srli_epi64(bounds, 32), bounds), low_half);
    length = _mm256_sub_epi64(length, around);
    word = _mm256_xor_si256(word, zeros);
    __m256i minus = _mm256_cmpeq_epi64(_mm256_and_si256(word, low_byte), dash);
    word = _mm256_andnot_si256(_mm256_and_si256(minus, low_byte), word);
    word = _mm256_sllv_epi64(word, _mm256_slli_epi64(_mm256_sub_epi64(most_length, length), 3));
    word = _mm256_xor_si256(word, point);
    __m256i bad = _mm256_or_si256(_mm256_add_epi8(word, lift), word);
    bad = _mm256_or_si256(bad, _mm256_cmpgt_epi64(length, most_length));
    bad = _mm256_or_si256(bad, _mm256_cmpgt_epi64(needed, _mm256_add_epi64(length, minus)));
    if (!_mm256_testz_si256(bad, tops))
      break;
    word = _mm256_or_si256(_mm256_and_si256(word, fraction), _mm256_slli_epi64(_mm256_and_si256(word, whole), 8));
    word = _mm256_madd_epi16(_mm256_maddubs_epi16(word, tens), hundreds);
    word = _mm256_add_epi64(_mm256_mul_epu32(word, thousands), _mm256_srli_epi64(word, 32));
    word = _mm256_sub_epi64(_mm256_xor_si256(word, minus), minus);
    _mm256_storeu_si256((__m256i *)(void *)(number + taken), word);
    least = _mm256_min_epi32(least, word);
    most = _mm256_max_epi32(most, word);
  }
  if (taken > 0)
    widen_4(extent, least, most);
  return taken + take_rows(shape, cells, from + taken, rows - taken, number + taken, extent);
}

csv_decimals_taker *csv_decimals_nth(size_t n)
{
  static csv_decimals_taker *const takers[] = {take_plainly, take_by_4};
  __builtin_cpu_init();
  if (n == 1 && !__builtin_cpu_supports("avx2"))
    return NULL;
  return n < sizeof takers / sizeof *takers ? takers[n] : NULL;
}

#else

csv_decimals_taker *csv_decimals_nth(size_t n)
{
  return n == 0 ? take_plainly : NULL;
}

#endif

csv_decimals_taker *csv_decimals_best(void)
{
  csv_decimals_taker *best = NULL, *taker;
  for (size_t n = 0; (taker = csv_decimals_nth(n)) != NULL; n++)
    best = taker;
  return best;
}
