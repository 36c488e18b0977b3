/* Separators and line ends, many bytes at a time. Reading order: csv_marks_find, then one marker: they differ only in
 * how many bytes they compare at once. */
#include "read/csv_marks.h"

#if defined(__x86_64__)
#include <immintrin.h>
#elif defined(__aarch64__)
#include <arm_neon.h>
#endif

/* What a block's masks come to. CR is odd unless LF follows; a tab separates or is plain. */
static void settle(struct csv_bits *bits, size_t i, uint64_t separators, uint64_t lines, uint64_t returns,
                   uint64_t others, bool line_follows)
{
  bits->ends[i] = separators | lines;
  bits->lines[i] = lines;
  bits->odd[i] = (others | (returns & ~(lines >> 1 | (uint64_t)line_follows << 63))) & ~separators;
}

/* Plain C: eight bytes in a word, of which each comparison leaves the top bit. */

#define ONES 0x0101010101010101u
#define TOPS 0x8080808080808080u
#define LOWS 0x7f7f7f7f7f7f7f7fu

/* Top bit of each byte that is zero. */
static uint64_t zero_bytes(uint64_t x)
{
  return ~(((x & LOWS) + LOWS) | x | LOWS);
}

/* Top bits to the eight lowest bits, the first byte's lowest; `word` was read byte by byte from the lowest. */
static uint64_t gather(uint64_t tops)
{
  return (tops >> 7) * 0x0102040810204080u >> 56;
}

static uint64_t load_word(const char *text)
{
  uint64_t word = 0;
  for (int i = 7; i >= 0; i--)
    word = word << 8 | (unsigned char)text[i];
  return word;
}

static void mark_plainly(const char *text, size_t blocks, char separator, struct csv_bits *bits)
{
  for (size_t i = 0; i < blocks; i++, text += 64) {
    uint64_t separators = 0, lines = 0, returns = 0, others = 0;
    for (size_t k = 0; k < 8; k++) {
      uint64_t word = load_word(text + 8 * k);
      uint64_t line = zero_bytes(word ^ ONES * '\n'), back = zero_bytes(word ^ ONES * '\r');
      uint64_t low = zero_bytes(word & ONES * 0xe0) & ~line & ~back & ~zero_bytes(word ^ ONES * '\t');
      separators |= gather(zero_bytes(word ^ ONES * (unsigned char)separator)) << (8 * k);
      lines |= gather(line) << (8 * k);
      returns |= gather(back) << (8 * k);
      others |= gather(low | zero_bytes(word ^ ONES * '"')) << (8 * k);
    }
    settle(bits, i, separators, lines, returns, others, text[64] == '\n');
  }
}

#if defined(__x86_64__)

static uint64_t mask_16(__m128i bytes, char c)
{
  return (uint64_t)(uint32_t)_mm_movemask_epi8(_mm_cmpeq_epi8(bytes, _mm_set1_epi8(c)));
}

static void mark_by_16(const char *text, size_t blocks, char separator, struct csv_bits *bits)
{
  const __m128i low = _mm_set1_epi8(0x1f);
  for (size_t i = 0; i < blocks; i++, text += 64) {
    uint64_t separators = 0, lines = 0, returns = 0, others = 0;
    for (int k = 0; k < 64; k += 16) {
      __m128i bytes = _mm_loadu_si128((const __m128i *)(const void *)(text + k));
      uint64_t line = mask_16(bytes, '\n'), back = mask_16(bytes, '\r');
      uint64_t control = (uint64_t)(uint32_t)_mm_movemask_epi8(_mm_cmpeq_epi8(_mm_min_epu8(bytes, low), bytes));
      separators |= mask_16(bytes, separator) << k;
      lines |= line << k;
      returns |= back << k;
      others |= ((control & ~line & ~back & ~mask_16(bytes, '\t')) | mask_16(bytes, '"')) << k;
    }
    settle(bits, i, separators, lines, returns, others, text[64] == '\n');
  }
}

__attribute__((target("avx2"))) static uint64_t mask_32(__m256i bytes, char c)
{
  return (uint32_t)_mm256_movemask_epi8(_mm256_cmpeq_epi8(bytes, _mm256_set1_epi8(c)));
}

__attribute__((target("avx2"))) static void mark_by_32(const char *text, size_t blocks, char separator,
                                                       struct csv_bits *bits)
{
  const __m256i low = _mm256_set1_epi8(0x1f);
  for (size_t i = 0; i < blocks; i++, text += 64) {
    uint64_t separators = 0, lines = 0, returns = 0, others = 0;
    for (int k = 0; k < 64; k += 32) {
      __m256i bytes = _mm256_loadu_si256((const __m256i *)(const void *)(text + k));
      uint64_t line = mask_32(bytes, '\n'), back = mask_32(bytes, '\r');
      uint64_t control = (uint32_t)_mm256_movemask_epi8(_mm256_cmpeq_epi8(_mm256_min_epu8(bytes, low), bytes));
      separators |= mask_32(bytes, separator) << k;
      lines |= line << k;
      returns |= back << k;
      others |= ((control & ~line & ~back & ~mask_32(bytes, '\t')) | mask_32(bytes, '"')) << k;
    }
    settle(bits, i, separators, lines, returns, others, text[64] == '\n');
  }
}

csv_marker *csv_marker_nth(size_t n)
{
  __builtin_cpu_init();
  if (n == 2 && !__builtin_cpu_supports("avx2"))
    return NULL;
  csv_marker *const markers[] = {mark_plainly, mark_by_16, mark_by_32};
  return n < sizeof markers / sizeof *markers ? markers[n] : NULL;
}

#elif defined(__aarch64__)

/* A bit of each byte that is all ones: the lanes' weights, added up in three steps. */
static uint64_t bits_64(uint8x16_t a, uint8x16_t b, uint8x16_t c, uint8x16_t d)
{
  static const uint8_t weights[16] = {1, 2, 4, 8, 16, 32, 64, 128, 1, 2, 4, 8, 16, 32, 64, 128};
  const uint8x16_t weight = vld1q_u8(weights);
  uint8x16_t low = vpaddq_u8(vandq_u8(a, weight), vandq_u8(b, weight));
  uint8x16_t high = vpaddq_u8(vandq_u8(c, weight), vandq_u8(d, weight));
  uint8x16_t sum = vpaddq_u8(low, high);
  return vgetq_lane_u64(vreinterpretq_u64_u8(vpaddq_u8(sum, sum)), 0);
}

static uint64_t equal_64(const uint8x16_t *part, char c)
{
  const uint8x16_t wanted = vdupq_n_u8((uint8_t)c);
  return bits_64(vceqq_u8(part[0], wanted), vceqq_u8(part[1], wanted), vceqq_u8(part[2], wanted),
                 vceqq_u8(part[3], wanted));
}

static void mark_by_16(const char *text, size_t blocks, char separator, struct csv_bits *bits)
{
  const uint8x16_t low = vdupq_n_u8(0x1f);
  for (size_t i = 0; i < blocks; i++, text += 64) {
    uint8x16_t part[4];
    for (size_t k = 0; k < 4; k++)
      part[k] = vld1q_u8((const uint8_t *)text + 16 * k);
    uint64_t control =
        bits_64(vcleq_u8(part[0], low), vcleq_u8(part[1], low), vcleq_u8(part[2], low), vcleq_u8(part[3], low));
    uint64_t lines = equal_64(part, '\n'), returns = equal_64(part, '\r');
    uint64_t others = (control & ~lines & ~returns & ~equal_64(part, '\t')) | equal_64(part, '"');
    settle(bits, i, equal_64(part, separator), lines, returns, others, text[64] == '\n');
  }
}

csv_marker *csv_marker_nth(size_t n)
{
  csv_marker *const markers[] = {mark_plainly, mark_by_16};
  return n < sizeof markers / sizeof *markers ? markers[n] : NULL;
}

#else

csv_marker *csv_marker_nth(size_t n)
{
  return n == 0 ? mark_plainly : NULL;
}

#endif

csv_marker *csv_marker_best(void)
{
  csv_marker *best = NULL, *marker;
  for (size_t n = 0; (marker = csv_marker_nth(n)) != NULL; n++)
    best = marker;
  return best;
}

#if defined(__GNUC__)
static unsigned lowest_bit(uint64_t bits)
{
  return (unsigned)__builtin_ctzll(bits);
}
#else
static unsigned lowest_bit(uint64_t bits)
{
  unsigned at = 0;
  for (; !(bits & 1); bits >>= 1)
    at++;
  return at;
}
#endif

/* Lines of a block that holds something odd somewhere. */
static void take_lines(struct csv_marks *marks, size_t block, size_t ends_before, bool *odd)
{
  uint64_t lines = marks->bits.lines[block];
  size_t count = ends_before;
  for (uint64_t ends = marks->bits.ends[block], passed = 0; ends != 0; ends &= ends - 1) {
    uint64_t end = ends & (~ends + 1);
    count++;
    if (!(lines & end))
      continue;
    uint64_t up_to = end - 1;
    marks->lines[marks->line_count] = (uint32_t)count;
    marks->odd[marks->line_count++] = *odd || (marks->bits.odd[block] & up_to & ~passed) != 0;
    *odd = false;
    passed = up_to | end;
  }
  uint64_t last = lines;
  while (last & (last - 1))
    last &= last - 1;
  uint64_t behind = last == 0 ? ~(uint64_t)0 : ~(last | (last - 1));
  *odd = *odd || (marks->bits.odd[block] & behind) != 0;
}

void csv_marks_find(csv_marker *marker, const char *text, size_t size, char separator, struct csv_marks *marks)
{
  size_t blocks = (size + 63) / 64, count = 0;
  bool odd = false;
  marker(text, blocks, separator, &marks->bits);
  if (size % 64 != 0) {
    uint64_t inside = ((uint64_t)1 << size % 64) - 1;
    marks->bits.ends[blocks - 1] &= inside;
    marks->bits.lines[blocks - 1] &= inside;
    marks->bits.odd[blocks - 1] &= inside;
  }
  marks->line_count = 0;
  for (size_t i = 0; i < blocks; i++) {
    size_t before = count;
    uint32_t base = (uint32_t)(i * 64);
    for (uint64_t ends = marks->bits.ends[i]; ends != 0; ends &= ends - 1)
      marks->ends[count++] = base + lowest_bit(ends);
    if (marks->bits.lines[i] != 0 || marks->bits.odd[i] != 0)
      take_lines(marks, i, before, &odd);
  }
}
