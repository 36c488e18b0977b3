/* Reading order: csv_shape_new; take_rows, which says what alike_by_4 does with four rows at once; mix_rows, the same
 * of mixed_by_4. */
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

static size_t alike_plainly(const struct csv_shape *shape, const struct csv_column_cells *cells, size_t from,
                            int64_t *number, struct csv_extent *extent)
{
  return take_rows(shape, cells, from, cells->rows - from, number, extent);
}

static inline size_t mix_rows(char sign, const struct csv_column_cells *cells, size_t from, size_t rows,
                              int64_t *number, uint8_t *decimals)
{
  const uint32_t *end = cells->ends + from * cells->stride;
  size_t taken = 0;
  for (; taken < rows; taken++, end += cells->stride) {
    const char *start = cells->text + (uint32_t)(end[-1] + 1), *stop = cells->text + *end - cells->trim;
    if (!number_short(start, stop, sign, &number[taken], &decimals[taken]))
      break;
  }
  return taken;
}

static size_t mixed_plainly(char sign, const struct csv_column_cells *cells, size_t from, int64_t *number,
                            uint8_t *decimals)
{
  return mix_rows(sign, cells, from, cells->rows - from, number, decimals);
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

/* Four cells from the rows at `end`: without their minus, digits 0 to 9, the last character in the highest byte. */
struct four {
  __m256i word, length, minus; /* length with the minus; all bits where there is one */
};

AVX2 static inline struct four load_cells(const struct csv_column_cells *cells, const uint32_t *end)
{
  const __m256i low_byte = each(0xff), low_half = each(UINT32_MAX);
  const size_t stride = cells->stride;
  const uint32_t *second = end + stride, *third = second + stride, *fourth = third + stride;
  const char *text = cells->text;
  struct four four;
  __m256i word = load_4(text + (uint32_t)(end[-1] + 1), text + (uint32_t)(second[-1] + 1),
                        text + (uint32_t)(third[-1] + 1), text + (uint32_t)(fourth[-1] + 1));
  __m256i bounds = load_4(end - 1, second - 1, third - 1, fourth - 1);
  /* Modulo 2^32, as the byte before the text is UINT32_MAX. */
  four.length = _mm256_and_si256(_mm256_sub_epi32(_mm256_srli_epi64(bounds, 32), bounds), low_half);
  four.length = _mm256_sub_epi64(four.length, each(1 + cells->trim));
  word = _mm256_xor_si256(word, each(NUMBER_ZEROS));
  four.minus = _mm256_cmpeq_epi64(_mm256_and_si256(word, low_byte), each('-' ^ '0'));
  word = _mm256_andnot_si256(_mm256_and_si256(four.minus, low_byte), word);
  four.word = _mm256_sllv_epi64(word, _mm256_slli_epi64(_mm256_sub_epi64(each(LENGTH_MOST), four.length), 3));
  return four;
}

/* Eight digits each. */
AVX2 static inline __m256i number_4(__m256i digits, __m256i minus)
{
  digits = _mm256_madd_epi16(_mm256_maddubs_epi16(digits, _mm256_set1_epi16(0x010a)), _mm256_set1_epi32(0x00010064));
  digits = _mm256_add_epi64(_mm256_mul_epu32(digits, each(10000)), _mm256_srli_epi64(digits, 32));
  return _mm256_sub_epi64(_mm256_xor_si256(digits, minus), minus);
}

AVX2 static size_t alike_by_4(const struct csv_shape *shape, const struct csv_column_cells *cells, size_t from,
                              int64_t *number, struct csv_extent *extent)
{
  const struct csv_column_cells own = *cells;
  const size_t rows = own.rows - from;
  const uint32_t *end = own.ends + from * own.stride;
  const __m256i tops = each(NUMBER_TOPS), needed = each(shape->decimals + 1u), length_most = each(LENGTH_MOST);
  const __m256i point = each(shape->point), lift = each(shape->lift), whole = each(shape->whole),
                fraction = each(shape->fraction);
  __m256i least = _mm256_set1_epi32(INT32_MAX), most = _mm256_set1_epi32(INT32_MIN);
  size_t taken = 0;
  for (; taken + 4 <= rows; taken += 4, end += 4 * own.stride) {
    struct four four = load_cells(&own, end);
    __m256i word = _mm256_xor_si256(four.word, point);
    __m256i bad = _mm256_or_si256(_mm256_add_epi8(word, lift), word);
    bad = _mm256_or_si256(bad, _mm256_cmpgt_epi64(four.length, length_most));
    bad = _mm256_or_si256(bad, _mm256_cmpgt_epi64(needed, _mm256_add_epi64(four.length, four.minus)));
    if (!_mm256_testz_si256(bad, tops))
      break;
    word = _mm256_or_si256(_mm256_and_si256(word, fraction), _mm256_slli_epi64(_mm256_and_si256(word, whole), 8));
    word = number_4(word, four.minus);
    _mm256_storeu_si256((__m256i *)(void *)(number + taken), word);
    least = _mm256_min_epi32(least, word);
    most = _mm256_max_epi32(most, word);
  }
  if (taken > 0)
    widen_4(extent, least, most);
  return taken + take_rows(shape, &own, from + taken, rows - taken, number + taken, extent);
}

/* false: one of them is more than this knows, or no number. */
AVX2 static inline bool mix_4(const struct four *four, char sign, int64_t *number, uint8_t *decimals)
{
  const __m256i zero = _mm256_setzero_si256(), one = each(1), ones = each(NUMBER_ONES);
  __m256i points = _mm256_cmpeq_epi8(four->word, _mm256_set1_epi8((char)(sign ^ '0')));
  __m256i pointless = _mm256_cmpeq_epi64(points, zero);
  /* The first one's lowest bit; a second one stays, and is no digit. */
  __m256i bit = _mm256_and_si256(points, _mm256_sub_epi64(zero, points));
  __m256i whole = _mm256_andnot_si256(pointless, _mm256_sub_epi64(bit, one));
  __m256i point = _mm256_sub_epi64(_mm256_slli_epi64(bit, 8), bit);
  __m256i behind = _mm256_or_si256(whole, point);
  __m256i word = _mm256_or_si256(_mm256_andnot_si256(behind, four->word),
                                 _mm256_slli_epi64(_mm256_and_si256(whole, four->word), 8));
  __m256i digits = _mm256_add_epi64(_mm256_sub_epi64(_mm256_add_epi64(four->length, four->minus), one),
                                    _mm256_and_si256(pointless, one));
  __m256i bad = _mm256_or_si256(_mm256_add_epi8(word, _mm256_set1_epi8(0x76)), word);
  bad = _mm256_or_si256(bad, _mm256_cmpgt_epi64(four->length, each(LENGTH_MOST)));
  bad = _mm256_or_si256(bad, _mm256_cmpgt_epi64(one, digits));
  if (!_mm256_testz_si256(bad, each(NUMBER_TOPS)))
    return false;
  __m256i count = _mm256_andnot_si256(pointless, _mm256_sad_epu8(_mm256_andnot_si256(behind, ones), zero));
  __m128i counts = _mm_packus_epi32(_mm256_castsi256_si128(count), _mm256_extracti128_si256(count, 1));
  uint32_t codes = (uint32_t)_mm_cvtsi128_si32(_mm_shuffle_epi8(counts, _mm_set1_epi32(0x0c080400)));
  memcpy(decimals, &codes, sizeof codes);
  _mm256_storeu_si256((__m256i *)(void *)number, number_4(word, four->minus));
  return true;
}

AVX2 static size_t mixed_by_4(char sign, const struct csv_column_cells *cells, size_t from, int64_t *number,
                              uint8_t *decimals)
{
  const struct csv_column_cells own = *cells;
  const size_t rows = own.rows - from;
  size_t taken = 0;
  for (; taken + 4 <= rows && sign != '\0'; taken += 4) {
    struct four four = load_cells(&own, own.ends + (from + taken) * own.stride);
    if (mix_4(&four, sign, number + taken, decimals + taken))
      continue;
    size_t more = mix_rows(sign, &own, from + taken, 4, number + taken, decimals + taken);
    if (more < 4)
      return taken + more;
  }
  return taken + mix_rows(sign, &own, from + taken, rows - taken, number + taken, decimals + taken);
}

const struct csv_taker *csv_taker_nth(size_t n)
{
  static const struct csv_taker takers[] = {{alike_plainly, mixed_plainly}, {alike_by_4, mixed_by_4}};
  __builtin_cpu_init();
  if (n == 1 && !__builtin_cpu_supports("avx2"))
    return NULL;
  return n < sizeof takers / sizeof *takers ? &takers[n] : NULL;
}

#else

const struct csv_taker *csv_taker_nth(size_t n)
{
  static const struct csv_taker taker = {alike_plainly, mixed_plainly};
  return n == 0 ? &taker : NULL;
}

#endif

const struct csv_taker *csv_taker_best(void)
{
  const struct csv_taker *best = NULL, *taker;
  for (size_t n = 0; (taker = csv_taker_nth(n)) != NULL; n++)
    best = taker;
  return best;
}
