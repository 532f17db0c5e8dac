/* Reads and checks the block. Runs once, after zero has been written; only here is anything divided.
 *
 * What is refused here and what src/constants refuses is the same; a test compares them. */
#include "blend.h"

#define MAX_BYTES                                                                                                     \
    (PP_HEADER_BYTES + PP_INPUT_BYTES * PP_MAX_INPUTS + PP_POINT_BYTES * PP_MAX_SEGMENTS + PP_CRC_BYTES)
#define MIN_BYTES (PP_HEADER_BYTES + PP_INPUT_BYTES + PP_CRC_BYTES)

static const struct pp_board *board;
static uint16_t at; /* next byte of the block */

static void take(void *into, uint8_t bytes)
{
    board->read_block(at, into, bytes);
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

static enum pp_cause check_header(const struct pp_header *is)
{
    if (is->inputs > PP_MAX_INPUTS)
        return PP_BLOCK_INPUTS;
    if (is->adc_bits != board->adc_bits || is->dac_bits != board->dac_bits || is->rate_hz != board->rate_hz)
        return PP_BLOCK_BOARD;
    if (is->inputs == 0 || is->dac_zero >= is->dac_full || (uint32_t)is->dac_full >> is->dac_bits ||
        !is_limit(is->rise) || !is_limit(is->fall) || is->start_samples == 0 || is->persistence == 0)
        return PP_BLOCK_VALUE;
    return PP_NO_CAUSE;
}

/* Codes from the rest edge towards the full edge. */
static PP_APART uint16_t travel_of(const struct pp_factor *is, uint16_t code)
{
    uint16_t travel = (uint16_t)(code - is->rest_edge);
    return is->full_edge < is->rest_edge ? (uint16_t)-travel : travel;
}

static PP_APART bool is_inside(const struct pp_record *is, uint16_t code)
{
    return code >= is->window_low && code <= is->window_high;
}

static bool is_possible(const struct pp_record *is)
{
    const struct pp_factor *factor = &is->as.factor;
    uint16_t top = (uint16_t)((1u << board->adc_bits) - 1u);

    if (is->window_low >= is->window_high || is->window_high > top)
        return false;
    if (is->partner != PP_MULTIPLIES)
        return is->as.check.gain != 0 && is->as.check.band <= top;
    return is_inside(is, factor->rest_edge) && is_inside(is, factor->full_edge) &&
           factor->filter_shift <= (uint8_t)(16 - board->adc_bits);
}

/* A check track and the start condition must name a factor. */
static PP_APART bool names_a_factor(const struct pp_core *core, uint8_t input)
{
    return input < core->is.inputs && core->input[input].is.partner == PP_MULTIPLIES;
}

/* The curve from its points: one segment more than points. Where the next curve's go; NULL when this one does not
 * rise with travel. */
static struct pp_segment *load_curve(struct pp_input *input, struct pp_segment *segment)
{
    const struct pp_factor *is = &input->is.as.factor;
    uint16_t travel = 0, value = 0;

    input->curve = segment;
    input->span = travel_of(is, is->full_edge);
    for (uint8_t left = is->points;; segment++, left--) {
        segment->to.code = is->full_edge;
        segment->to.value = PP_ONE;
        if (left > 0)
            take(&segment->to, PP_POINT_BYTES);
        segment->to.code = travel_of(is, segment->to.code);
        if (segment->to.code <= travel || segment->to.code > input->span || segment->to.value < value ||
            segment->to.value > PP_ONE)
            return NULL;
        segment->slope = ((uint32_t)(uint16_t)(segment->to.value - value) << 16) / (uint16_t)(segment->to.code - travel);
        if (left == 0)
            return segment + 1;
        travel = segment->to.code;
        value = segment->to.value;
    }
}

static enum pp_cause load_inputs(struct pp_core *core)
{
    struct pp_input *input = core->input;
    struct pp_segment *segment = core->segment;
    uint8_t room = PP_MAX_SEGMENTS, left;

    for (left = core->is.inputs; left > 0; left--, input++) {
        take(&input->is, PP_INPUT_BYTES);
        if (!is_possible(&input->is))
            return PP_BLOCK_VALUE;
    }
    if (!names_a_factor(core, core->is.start_input))
        return PP_BLOCK_VALUE;
    input = core->input;
    for (left = core->is.inputs; left > 0; left--, input++) {
        if (input->is.partner != PP_MULTIPLIES) {
            if (!names_a_factor(core, input->is.partner))
                return PP_BLOCK_VALUE;
            core->has_checks = true;
            continue;
        }
        if (input->is.as.factor.points >= room)
            return PP_BLOCK_INPUTS;
        room = (uint8_t)(room - input->is.as.factor.points - 1);
        segment = load_curve(input, segment);
        if (!segment)
            return PP_BLOCK_VALUE;
    }
    return at + PP_CRC_BYTES == core->is.length ? PP_NO_CAUSE : PP_BLOCK_LENGTH;
}

static enum pp_cause load(struct pp_core *core)
{
    at = 0;
    take(&core->is, PP_HEADER_BYTES);
    enum pp_cause cause = check_frame(&core->is);
    if (cause == PP_NO_CAUSE)
        cause = check_header(&core->is);
    if (cause != PP_NO_CAUSE)
        return cause;
    at = PP_HEADER_BYTES;
    return load_inputs(core);
}

void pp_start(struct pp_core *core, const struct pp_board *with, enum pp_cause latched)
{
    with->write_dac(0);
    board = with;
    core->board = *with;
    core->dac_failed = core->has_checks = false;
    core->command = core->dac_zero = core->dac_span = 0;
    core->start_seen = core->suspicion = 0;
    enum pp_cause cause = load(core);
    if (cause == PP_NO_CAUSE) {
        core->dac_zero = core->is.dac_zero;
        core->dac_span = (uint16_t)(core->is.dac_full - core->is.dac_zero);
        cause = latched;
    }
    core->cause = (uint8_t)cause;
    core->state = cause == PP_NO_CAUSE ? PP_WAITING : PP_STOPPED;
}
