/* Reads and checks the block. Runs once, after zero has been written; only here is anything divided.
 *
 * What is refused here and what src/constants refuses is the same; a test compares them. */
#include "blend.h"

#define MAX_BYTES                                                                                                     \
    (PP_HEADER_BYTES + PP_INPUT_BYTES * PP_MAX_INPUTS + PP_POINT_BYTES * PP_MAX_SEGMENTS + PP_CRC_BYTES)
#define MIN_BYTES (PP_HEADER_BYTES + PP_INPUT_BYTES + PP_CRC_BYTES)

static uint16_t at; /* next byte of the block */

static void take(void *into, uint8_t bytes)
{
    pp_read_block(at, into, bytes);
    at = (uint16_t)(at + bytes);
}

/* CRC-16/IBM-3740: polynomial 0x1021, from 0xFFFF, nothing reflected. */
static uint16_t crc_to(uint16_t end)
{
    uint16_t crc = 0xFFFFu;
    at = 0;
    while (at < end) {
        uint8_t byte;
        take(&byte, 1);
        crc ^= (uint16_t)((uint16_t)byte << 8);
        for (uint8_t bit = 8; bit > 0; bit--) {
            bool top = crc & 0x8000u;
            crc = (uint16_t)(crc << 1);
            if (top)
                crc ^= 0x1021u;
        }
    }
    return crc;
}

static enum pp_cause check_frame(const struct pp_header *is)
{
    uint16_t crc;

    if (is->magic != PP_MAGIC)
        return PP_BLOCK_MAGIC;
    if (is->version != PP_VERSION)
        return PP_BLOCK_VERSION;
    if (is->length < MIN_BYTES || is->length > MAX_BYTES)
        return PP_BLOCK_LENGTH;
    uint16_t expected = crc_to((uint16_t)(is->length - PP_CRC_BYTES));
    take(&crc, sizeof crc);
    return crc == expected ? PP_NO_CAUSE : PP_BLOCK_CRC;
}

/* 1 .. 1 in Q15. */
static bool is_limit(uint16_t value)
{
    return (uint16_t)(value - 1u) < PP_ONE;
}

/* The largest code of so many bits, 1 .. 16. */
static PP_APART uint16_t top_of(uint8_t bits)
{
    return (uint16_t)(0xFFFFu >> (uint8_t)(16 - bits));
}

static enum pp_cause check_header(const struct pp_header *is, const struct pp_board *board)
{
    uint16_t top_dac = top_of(board->dac_bits);

    if (is->inputs > PP_MAX_INPUTS)
        return PP_BLOCK_INPUTS;
    if (is->adc_bits != board->adc_bits || is->dac_bits != board->dac_bits || is->rate_hz != board->rate_hz)
        return PP_BLOCK_BOARD;
    if (is->inputs == 0 || is->dac_zero >= is->dac_full || is->dac_full > top_dac ||
        !is_limit(is->rise) || !is_limit(is->fall) || is->start_samples == 0 || is->persistence == 0 ||
        (is->flags & (uint8_t)~PP_WAITS_AT_ZERO) != 0 || is->supply.low >= is->supply.high ||
        is->supply.high > top_of(board->adc_bits) || is->read_back > top_dac)
        return PP_BLOCK_VALUE;
    return PP_NO_CAUSE;
}

/* Without its sign. */
static PP_APART uint16_t gain_of(const struct pp_check *is)
{
    return is->gain < 0 ? (uint16_t)(0u - (uint16_t)is->gain) : (uint16_t)is->gain;
}

static bool is_possible(const struct pp_record *is, uint8_t adc_bits)
{
    const struct pp_factor *factor = &is->as.factor;
    uint16_t top = top_of(adc_bits);

    if (is->window.low >= is->window.high || is->window.high > top)
        return false;
    if (is->partner != PP_MULTIPLIES)
        return is->as.check.gain != 0 && is->as.check.band <= top &&
               (uint32_t)gain_of(&is->as.check) * top < ((uint32_t)1 << 27) - 2048u; /* half a code, to round */
    return pp_is_inside(&is->window, factor->rest_edge) && pp_is_inside(&is->window, factor->full_edge) &&
           factor->filter_shift <= (uint8_t)(16 - adc_bits);
}

/* A check track and the start condition must name a factor. */
static PP_APART bool names_a_factor(const struct pp_core *core, uint8_t input)
{
    const struct pp_constants *constant = &core->constant;
    return input < constant->is.inputs && constant->input[input].is.partner == PP_MULTIPLIES;
}

/* The curve from its points: one segment more than points. Where the next curve's go; NULL when this one does not
 * rise with travel. */
static struct pp_segment *load_curve(struct pp_input *input, struct pp_segment *segment)
{
    const struct pp_factor *is = &input->is.as.factor;
    uint16_t travel = 0, value = 0;

    input->made.factor.curve = segment;
    input->made.factor.span = pp_travel_of(is, is->full_edge);
    for (uint8_t left = is->points;; segment++, left--) {
        segment->to.code = is->full_edge;
        segment->to.value = PP_ONE;
        if (left > 0)
            take(&segment->to, PP_POINT_BYTES);
        segment->to.code = pp_travel_of(is, segment->to.code);
        if (segment->to.code <= travel || segment->to.code > input->made.factor.span || segment->to.value < value ||
            segment->to.value > PP_ONE)
            return NULL;
        uint32_t slope = ((uint32_t)(uint16_t)(segment->to.value - value) << 16) / (uint16_t)(segment->to.code - travel);
        segment->slope_low = (uint16_t)slope;
        segment->slope_high = (uint16_t)(slope >> 16);
        if (left == 0)
            return segment + 1;
        travel = segment->to.code;
        value = segment->to.value;
    }
}

/* What a check track needs in every step. */
static void load_check(struct pp_input *input, const struct pp_factor *partner)
{
    const struct pp_check *is = &input->is.as.check;
    uint32_t inverse = ((uint32_t)1 << 20) / gain_of(is);

    input->made.check.inverse = inverse > 0xFFFFu ? 0xFFFFu : (uint16_t)inverse;
    input->made.check.turned = (is->gain < 0) != (partner->full_edge < partner->rest_edge);
}

static enum pp_cause load_inputs(struct pp_core *core)
{
    struct pp_constants *constant = &core->constant;
    struct pp_input *input = constant->input;
    struct pp_segment *segment = constant->segment;
    uint8_t room = PP_MAX_SEGMENTS, left;

    for (left = constant->is.inputs; left > 0; left--, input++) {
        take(&input->is, PP_INPUT_BYTES);
        if (!is_possible(&input->is, constant->is.adc_bits))
            return PP_BLOCK_VALUE;
    }
    if (!names_a_factor(core, constant->is.start_input))
        return PP_BLOCK_VALUE;
    input = constant->input;
    for (left = constant->is.inputs; left > 0; left--, input++) {
        if (input->is.partner != PP_MULTIPLIES) {
            if (!names_a_factor(core, input->is.partner))
                return PP_BLOCK_VALUE;
            load_check(input, &constant->input[input->is.partner].is.as.factor);
            constant->has_checks = true;
            continue;
        }
        if (input->is.as.factor.points >= room)
            return PP_BLOCK_INPUTS;
        room = (uint8_t)(room - input->is.as.factor.points - 1);
        segment = load_curve(input, segment);
        if (!segment)
            return PP_BLOCK_VALUE;
    }
    return at + PP_CRC_BYTES == constant->is.length ? PP_NO_CAUSE : PP_BLOCK_LENGTH;
}

static enum pp_cause load(struct pp_core *core, const struct pp_board *board)
{
    struct pp_header *is = &core->constant.is;
    at = 0;
    take(is, PP_HEADER_BYTES);
    enum pp_cause cause = check_frame(is);
    if (cause == PP_NO_CAUSE)
        cause = check_header(is, board);
    if (cause != PP_NO_CAUSE)
        return cause;
    at = PP_HEADER_BYTES;
    return load_inputs(core);
}

static void take_output(struct pp_constants *constant)
{
    const struct pp_header *is = &constant->is;
    constant->dac_zero = is->dac_zero;
    constant->dac_span = (uint16_t)(is->dac_full - is->dac_zero);
    if (is->flags & PP_WAITS_AT_ZERO)
        constant->dac_wait = is->dac_zero;
}

/* What the constants add up to, and the pace at which all are summed again within a sixteenth of a second. */
static void sum_up(struct pp_core *core, uint16_t rate_hz)
{
    uint16_t pace = (uint16_t)(PP_SUM_CHUNKS * 16u / rate_hz + 1u);

    core->constant.pace = pace > 0xFFu ? 0xFFu : (uint8_t)pace;
    core->summed = core->sum = core->sums = 0;
    pp_sum_on(core, 0xFFu);
    core->right_sum = core->sum;
    core->right_sums = core->sums;
}

void pp_start(struct pp_core *core, const struct pp_board *board, enum pp_cause latched)
{
    struct pp_constants *constant = &core->constant;

    pp_write_dac(0);
    constant->has_checks = false;
    constant->dac_zero = constant->dac_wait = constant->dac_span = 0;
    core->dac_failed = false;
    core->command = core->written = core->start_seen = core->suspicion = 0;
    core->not_command = 0xFFFFu;
    enum pp_cause cause = load(core, board);
    if (cause == PP_NO_CAUSE) {
        take_output(constant);
        cause = latched;
    }
    pp_become(core, cause == PP_NO_CAUSE ? PP_WAITING : PP_STOPPED, cause);
    sum_up(core, board->rate_hz);
}
