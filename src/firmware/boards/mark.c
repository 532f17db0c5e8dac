#include "mark.h"

#include "config.h"

/* At an address of its own: a bootloader's start clears its own memory, which lies over this program's. */
struct mark {
    uint16_t word;
    uint8_t cause, not_cause;
};
#define MARK ((volatile struct mark *)MARK_ADDRESS)

/* For mark.ld, which refuses a program whose memory reaches there. */
#define TEXT_OF(number) #number
#define TEXT(number) TEXT_OF(number)
__asm__(".global mark_address\n.set mark_address, 0x800000 + " TEXT(MARK_ADDRESS));

#define RUNNING_WORD 0xA53Cu
#define STOPPED_WORD 0x5AC3u

/* The word, or that with one bit changed. */
static bool is_nearly(uint16_t word)
{
    uint16_t changed = MARK->word ^ word;
    return (changed & (uint16_t)(changed - 1u)) == 0;
}

static void put(uint16_t word, uint8_t cause)
{
    MARK->cause = cause;
    MARK->not_cause = (uint8_t)~cause;
    MARK->word = word;
}

void mark_running(void)
{
    put(RUNNING_WORD, 0);
}

void mark_stopped(uint8_t cause)
{
    put(STOPPED_WORD, cause);
}

/* A stop lasts until power is cycled: no other reset ends it. Nor does one begin a new run: a start that is no power-up
 * while the mark of running stands is a stop, and so is a reset by the watchdog. Where a bootloader has cleared the
 * cause of the reset, the mark alone decides. */
enum pp_cause mark_read(uint8_t reset_cause)
{
    bool hung = (reset_cause & (1u << WDRF)) != 0;

    if (reset_cause & (1u << PORF)) {
        MARK->word = 0;
        return PP_NO_CAUSE;
    }
    if (is_nearly(STOPPED_WORD)) {
        bool told = (MARK->cause ^ MARK->not_cause) == 0xFFu && MARK->cause != PP_NO_CAUSE;
        return told ? (enum pp_cause)MARK->cause : PP_RESET;
    }
    if (hung)
        return PP_WATCHDOG;
    return is_nearly(RUNNING_WORD) ? PP_RESET : PP_NO_CAUSE;
}
