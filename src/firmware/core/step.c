/* One step: sample, watch, filter, blend, limit, write. No division, no loop that is not bounded by the build.
 *
 * Products are written as ((a * b << 1) + 0x8000) >> 16 and not as (a * b + 0x4000) >> 15: the result is the same
 * and an 8-bit part takes whole bytes instead of shifting 15 times. */
#include "blend.h"

void pp_become(struct pp_core *core, enum pp_state state, enum pp_cause cause)
{
    core->state = (uint8_t)state;
    core->not_state = (uint8_t)~core->state;
    core->cause = (uint8_t)cause;
}

/* Two sums, of the bytes and of the first sum, both of 8 bits: every change of a single byte is seen. */
bool pp_sum_on(struct pp_core *core, uint8_t chunks)
{
    const uint8_t *at = (const uint8_t *)&core->constant + core->summed * PP_SUM_CHUNK;
    uint8_t sum = core->sum, sums = core->sums, summed = core->summed;

    for (; chunks > 0 && summed < PP_SUM_CHUNKS; chunks--, at += PP_SUM_CHUNK) {
        sum = (uint8_t)(sum + at[0]);
        sums = (uint8_t)(sums + sum);
        sum = (uint8_t)(sum + at[1]);
        sums = (uint8_t)(sums + sum);
        sum = (uint8_t)(sum + at[2]);
        sums = (uint8_t)(sums + sum);
        sum = (uint8_t)(sum + at[3]);
        sums = (uint8_t)(sums + sum);
        summed++;
    }
    core->summed = summed;
    core->sum = sum;
    core->sums = sums;
    return summed >= PP_SUM_CHUNKS;
}

PP_APART bool pp_is_inside(const struct pp_window *window, uint16_t code)
{
    return code >= window->low && code <= window->high;
}

/* Codes from the rest edge towards the full edge, 0 at and before the rest edge. */
PP_APART uint16_t pp_travel_of(const struct pp_factor *is, uint16_t code)
{
    uint16_t travel = (uint16_t)(code - is->rest_edge);
    if (is->full_edge < is->rest_edge)
        travel = (uint16_t)-travel;
    return travel & 0x8000u ? 0 : travel;
}

/* Whether the memory still holds what was put there. */
static bool is_sound(struct pp_core *core)
{
    if ((core->state ^ core->not_state) != 0xFFu || (uint16_t)(core->command ^ core->not_command) != 0xFFFFu ||
        core->constant.pace == 0)
        return false;
    if (!pp_sum_on(core, core->constant.pace))
        return true;
    bool right = core->sum == core->right_sum && core->sums == core->right_sums;
    core->summed = core->sum = core->sums = 0;
    return right;
}

static void set_command(struct pp_core *core, uint16_t command)
{
    core->command = command;
    core->not_command = (uint16_t)~command;
}

static PP_APART void stop(struct pp_core *core, enum pp_cause cause)
{
    pp_become(core, PP_STOPPED, cause);
    set_command(core, 0);
}

/* a x b in Q15, to the nearest. Exact when either is 0 or 1. */
static uint16_t product(uint16_t a, uint16_t b)
{
    return (uint16_t)((((uint32_t)a * b << 1) + 0x8000u) >> 16);
}

/* Q12 to whole codes, to the nearest. Four places up and whole bytes down, where 12 down would be a longer loop. */
static int16_t whole_of(int32_t q12)
{
    return (int16_t)((((uint32_t)q12 + 2048u) << 4) >> 16);
}

/* Whether every check track reads gain x partner + offset, to the nearest code, within its band. One that is more than a
 * code of its own behind leaves its lag with its partner: the lower of the two counts. */
static PP_APART bool tracks_agree(struct pp_core *core)
{
    const struct pp_input *input = core->constant.input;
    const struct pp_live *live = core->live;

    for (uint8_t left = core->constant.is.inputs; left > 0; left--, input++, live++) {
        if (input->is.partner == PP_MULTIPLIES)
            continue;
        const struct pp_check *check = &input->is.as.check;
        struct pp_live *partner = &core->live[input->is.partner];
        int32_t ahead = (int32_t)(int16_t)live->code - check->offset;
        ahead -= whole_of((int32_t)check->gain * (int16_t)partner->code);
        if (input->made.check.turned)
            ahead = -ahead;
        uint32_t in_band = (uint32_t)(ahead + (int32_t)check->band);
        if (in_band > (uint16_t)(check->band << 1))
            return false;
        int16_t behind = (int16_t)(check->band - 1u - (uint16_t)in_band); /* more than the code of its own */
        if (behind <= 0)
            continue;
        uint32_t lag = ((uint32_t)(uint16_t)behind * input->made.check.inverse + 0x80u) >> 8;
        uint16_t most = lag > 0xFFFFu ? 0xFFFFu : (uint16_t)lag;
        if (most > partner->lag)
            partner->lag = most;
    }
    return true;
}

static bool is_read_back(const struct pp_core *core)
{
    uint16_t code = pp_read_back();
    uint16_t off = code > core->written ? (uint16_t)(code - core->written) : (uint16_t)(core->written - code);
    return off <= core->constant.is.read_back;
}

/* Reads everything; why this sample is bad. */
static enum pp_cause sample(struct pp_core *core)
{
    const struct pp_constants *constant = &core->constant;
    enum pp_cause cause = PP_NO_CAUSE;
    const struct pp_input *input = constant->input;
    struct pp_live *live = core->live;

    if (!is_read_back(core))
        cause = PP_READ_BACK;
    if (core->dac_failed)
        cause = PP_DAC;
    if (!pp_is_inside(&core->constant.is.supply, pp_supply_code()))
        cause = PP_SUPPLY;
    for (uint8_t i = 0; i < constant->is.inputs; i++, input++, live++) {
        uint16_t code = pp_input_code(i);
        live->code = code;
        live->lag = 0;
        if (code < input->is.window.low || code > input->is.window.high)
            cause = PP_OUTSIDE;
    }
    if (constant->has_checks && cause != PP_OUTSIDE && !tracks_agree(core))
        cause = PP_TRACKS;
    return cause;
}

static void filter(const struct pp_input *input, struct pp_live *live, uint16_t sum)
{
    live->sum = sum;
    live->filtered = (uint16_t)(sum >> input->is.as.factor.filter_shift);
    live->guard = (uint16_t)(0u - sum - live->filtered);
}


/* The code that counts when a check track is behind: nearer to the rest edge by its lag, never beyond it. */
static PP_APART uint16_t lower_of(const struct pp_input *input, const struct pp_live *live)
{
    uint16_t travel = pp_travel_of(&input->is.as.factor, live->code);
    uint16_t lag = live->lag < travel ? live->lag : travel;
    if (input->is.as.factor.full_edge < input->is.as.factor.rest_edge)
        return (uint16_t)(live->code + lag);
    return (uint16_t)(live->code - lag);
}

/* The input's factor of the command, Q15. The filter keeps its fraction: sum is value x 2^shift, so a steady input is
 * reached exactly from both sides. */
static uint16_t factor_of(const struct pp_input *input, struct pp_live *live)
{
    const struct pp_segment *segment = input->made.factor.curve;
    uint16_t code = live->lag > 0 ? lower_of(input, live) : live->code;

    filter(input, live, (uint16_t)(live->sum + code - live->filtered));

    uint16_t travel = pp_travel_of(&input->is.as.factor, live->filtered);
    if (travel >= input->made.factor.span)
        return PP_ONE;
    while (travel >= segment->to.code) /* the last one ends at the span */
        segment++;
    /* 16 by 32 bits; what is above 32 bits is 0. */
    uint16_t before = (uint16_t)(segment->to.code - travel);
    uint16_t below = (uint16_t)(before * segment->slope_high);
    below = (uint16_t)(below + (uint16_t)(((uint32_t)before * segment->slope_low + 0x8000u) >> 16));
    return (uint16_t)(segment->to.value - below);
}

static void wait_for_start(struct pp_core *core)
{
    const struct pp_constants *constant = &core->constant;
    const struct pp_input *input = constant->input;
    struct pp_live *live = core->live;
    uint8_t start = constant->is.start_input;

    for (uint8_t left = constant->is.inputs; left > 0; left--, input++, live++)
        if (input->is.partner == PP_MULTIPLIES)
            filter(input, live, (uint16_t)(live->code << input->is.as.factor.filter_shift)); /* no lag to keep */
    if (pp_travel_of(&constant->input[start].is.as.factor, core->live[start].filtered) > 0)
        core->start_seen = 0;
    else if (++core->start_seen >= constant->is.start_samples)
        pp_become(core, PP_RUNNING, PP_NO_CAUSE);
}

/* As product(); the first factor needs no multiplication. */
static uint16_t times(uint16_t target, uint16_t factor)
{
    return target == PP_ONE ? factor : product(target, factor);
}

/* The command moves towards the blend of the inputs; up only when nothing is suspected. */
static void run(struct pp_core *core)
{
    const struct pp_constants *constant = &core->constant;
    const struct pp_input *input = constant->input;
    struct pp_live *live = core->live;
    uint16_t target = PP_ONE, command = core->command;

    for (uint8_t left = constant->is.inputs; left > 0; left--, input++, live++) {
        if (input->is.partner != PP_MULTIPLIES)
            continue;
        if ((uint16_t)(live->sum + live->filtered + live->guard) != 0) {
            stop(core, PP_MEMORY);
            return;
        }
        target = times(target, factor_of(input, live));
    }
    if (target > command) {
        uint16_t up = (uint16_t)(target - command);
        if (core->suspicion == 0)
            command = (uint16_t)(command + (up < constant->is.rise ? up : constant->is.rise));
    } else {
        uint16_t down = (uint16_t)(command - target);
        command = (uint16_t)(command - (down < constant->is.fall ? down : constant->is.fall));
    }
    set_command(core, command);
}

/* A bad sample touches nothing but the suspicion: the command holds. */
static void take_sample(struct pp_core *core)
{
    enum pp_cause cause = sample(core);

    if (cause != PP_NO_CAUSE) {
        core->start_seen = 0;
        if (++core->suspicion >= core->constant.is.persistence)
            stop(core, cause);
        return;
    }
    if (core->suspicion > 0)
        core->suspicion--;
    if (core->state == PP_WAITING)
        wait_for_start(core);
    else
        run(core);
}

/* Code 0 unless it runs, whatever the command is. */
static uint16_t output_of(const struct pp_core *core)
{
    const struct pp_constants *constant = &core->constant;
    if (core->state == PP_RUNNING)
        return (uint16_t)(constant->dac_zero + product(core->command, constant->dac_span));
    return core->state == PP_WAITING ? constant->dac_wait : 0;
}

void pp_step(struct pp_core *core)
{
    if (!is_sound(core))
        stop(core, PP_MEMORY);
    if (core->state != PP_STOPPED)
        take_sample(core);
    uint16_t code = output_of(core);
    core->dac_failed = !pp_write_dac(code);
    if (!core->dac_failed)
        core->written = code;
    if (core->state == PP_RUNNING)
        pp_pulse();
    pp_kick_watchdog();
}
