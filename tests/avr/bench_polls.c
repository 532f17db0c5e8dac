#include "bench_polls.h"

#include <stdbool.h>
#include <string.h>

#define REGISTERS 32
#define FLAGS 8
#define LONGEST 16 /* bytes back to the beginning of a loop */

/* The last turn: where and when it began, with what in registers and flags, and which event was the next. */
static struct {
    avr_flashaddr_t at;
    avr_cycle_count_t cycle, event;
    uint8_t registers[REGISTERS], flags[FLAGS];
    bool looks_only;
} turn;
static avr_flashaddr_t before;

/* in, lds, sbic and sbis, sbrc and sbrs, sbiw, rjmp, brne: instruction set manual, opcodes. */
static bool only_looks(uint16_t opcode)
{
    return (opcode & 0xF800) == 0xB000 || (opcode & 0xFE0F) == 0x9000 || (opcode & 0xFD00) == 0x9900 ||
           (opcode & 0xFC08) == 0xFC00 || (opcode & 0xFF00) == 0x9700 || (opcode & 0xF000) == 0xC000 ||
           (opcode & 0xFC07) == 0xF401;
}

static unsigned pair(const uint8_t *registers, unsigned at)
{
    return registers[at] | (unsigned)registers[at + 1] << 8;
}

/* How many more turns are like the last one, as far as registers tell: the one that is counted down must stay well above 0.
 * `counted` is that pair, or REGISTERS. */
static uint64_t turns_alike(const uint8_t *now, unsigned *counted)
{
    *counted = REGISTERS;
    for (unsigned at = 0; at < REGISTERS; at += 2) {
        unsigned had = pair(turn.registers, at), has = pair(now, at);
        if (had == has)
            continue;
        if (*counted != REGISTERS || at < 24 || had - has != 1 || had > 0x7FFF || has < 3)
            return 0;
        *counted = at;
    }
    return *counted == REGISTERS ? UINT64_MAX : pair(now, *counted) - 2u;
}

/* Leaves out what it can of a loop whose turn took so many cycles. */
static void leave_out(avr_t *avr, avr_cycle_count_t end, uint64_t cycles)
{
    unsigned counted;
    uint64_t turns = turns_alike(avr->data, &counted);
    if (avr->cycle + 2 * cycles >= end)
        return;
    uint64_t room = (end - avr->cycle) / cycles - 1;
    if (turns > room)
        turns = room;
    avr->cycle += turns * cycles;
    if (counted != REGISTERS) {
        unsigned left = pair(avr->data, counted) - (unsigned)turns;
        avr->data[counted] = (uint8_t)left;
        avr->data[counted + 1] = (uint8_t)(left >> 8);
    }
}

void bench_polls_look(avr_t *avr, avr_cycle_count_t until)
{
    avr_flashaddr_t pc = avr->pc;
    avr_cycle_count_t event = avr->cycle_timers.timer ? avr->cycle_timers.timer->when : UINT64_MAX;
    if (pc < before && before - pc <= LONGEST) {
        bool again = turn.looks_only && turn.at == pc && turn.event == event && memcmp(turn.flags, avr->sreg, FLAGS) == 0;
        if (again)
            leave_out(avr, event < until ? event : until, avr->cycle - turn.cycle);
        turn.at = pc;
        turn.event = event;
        turn.cycle = avr->cycle;
        turn.looks_only = true;
        memcpy(turn.registers, avr->data, REGISTERS);
        memcpy(turn.flags, avr->sreg, FLAGS);
    }
    turn.looks_only = turn.looks_only && only_looks((uint16_t)(avr->flash[pc] | avr->flash[pc + 1] << 8));
    before = pc;
}

void bench_polls_forget(void)
{
    turn.looks_only = false;
}
