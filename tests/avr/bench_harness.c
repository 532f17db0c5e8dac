/* A simulated board that runs the blending firmware: codes on its ADC, a DAC on its two wires, an EEPROM with a
 * block. Worked line by line through stdin and stdout; ends when stdin ends.
 *
 *     bench_harness --mcu NAME --hz N --elf FILE [--eeprom FILE.hex] --channels 0,1,2 --dac PORT,SDA,SCL,PORTADDRESS
 *                   --led PORTADDRESS,BIT --core ADDRESS --step ADDRESS --drivers ADDRESS,... --end ADDRESS
 *
 * --core      where struct pp_core lies in RAM: its first two bytes are state and cause
 * --step      pp_step in flash (byte address); --drivers: what it calls on the board, whose time is not the core's
 * --end       first RAM byte behind .noinit: from there up is the stack's
 *
 * --enable    output register and bit of the enable line, which drives a diode pump (bench_pump.h)
 * --readback  the ADC channel at the DAC's output
 * --boot      a bootloader, where a reset begins
 * --every-turn  waiting is gone through turn by turn (bench_polls.h)
 *
 * Commands, and what they print:
 *     codes C...      codes of the inputs from now on
 *     mv INPUT MV     a voltage instead
 *     steps N         runs until N more steps have ended; for each: S dac state cause cycle
 *     quiet N         the same without printing
 *     us N            runs for N simulated microseconds
 *     look            S dac state cause cycle, as it is at this moment
 *     zero CODE       DAC codes up to this count as zero output
 *     mark            from now on are counted: peak, time to zero, time to the stop, time until the drive was off
 *     report          R was= peak= zero_us= latch_us= off_us= dac= out= enabled= state= cause= writes=  (-1: not yet)
 *                     off_us: since when the drive is off, the output at zero or the enable line let go
 *     begin .. end    what stands between happens in a process of its own, from the present state: the state before
 *                     `begin` is there again after `end`
 *     reset CAUSE     por, ext, bor, wdt or none (MCUSR cleared, as by a bootloader)
 *     deaf 0|1        the DAC does not answer;  sda 0|1, scl 0|1: the line is shorted to ground
 *     stuck CODE|-1   the DAC's output stands at this code whatever is written;  pin 0|1|-1: the enable line's pin
 *     memory CODE 0|1 what the DAC's memory holds for its power-up; whether it can be changed
 *     supply MV       of the whole board: all inputs and the DAC's output follow it
 *     weak V          the pump's parts are those that hold worst, and its relay needs V at the gate
 *     freeze US       the clock has stopped for so long;  hold US: the part is held in reset, by its pin
 *     cycle MS        power is off for so long, the DAC comes up with what it has stored, then `por`
 *     flip ADDRESS BIT a bit of the memory;  brave 1: a program that crashes stands still, and the harness does not end
 *     jump ADDRESS    the program is lost: execution goes on at this flash address
 *     led             L 0|1
 *     clear           forgets the step times of `stats`
 *     stats           T steps= core_min= core_max= whole_max= period_min= period_max= stack= first_code= first_us=
 *                     resets= writes= stores= faults=    (core_*, whole_*, period_* in CPU cycles)
 *
 * The ADC gives mV * 1023 / vref, rounded down, as the simulator computes it (silicon: 1024); `codes` chooses the
 * voltage that gives the asked code. Not simulated: settling and sample-and-hold of the ADC, brown-out, rise time
 * of the two wires. */
#define _GNU_SOURCE
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <simavr/avr_adc.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_time.h>

#include "bench_dac.h"
#include "bench_polls.h"
#include "bench_pump.h"

#define VREF_MV 5000
#define MCUSR_ADDRESS 0x54 /* the same on both parts */
#define PAINT 0xC5
#define STOPPED 2

static struct {
    const char *mcu, *elf, *eeprom;
    unsigned hz, channels[8], inputs;
    unsigned core, step, end, drivers[8], driver_count, led_address, led_bit, enable_address, enable_bit;
    int read_back;
    char *boot;
    bool every_turn;
} board = {.read_back = -1};

static avr_t *avr;
static avr_irq_t *adc;
static unsigned mv[16]; /* by ADC channel */
static struct bench_dac dac;
static uint16_t dac_code;
static int stuck = -1;
static unsigned zero_code;

static struct bench_pump pump = {.on_v = 0.8}; /* a gate that lets go as late as any */
static int enable_level = PUMP_FLOATS, pin_stuck = -1;
static double pumped_us; /* the pump is up to date to here */
static double lost_us;   /* time that went by while the part stood still */
static int64_t drive_off_us = -1;
static bool may_crash, crashed; /* a program that runs into nothing stands still from then on */

/* Since the last reset or power-up; `resets` counts those of the part's own. */
static uint64_t reset_cycle, first_write_cycle, resets;
static int first_code = -1;

/* Since `mark`. */
static uint64_t mark_cycle, mark_writes;
static int64_t zero_cycle = -1, latch_cycle = -1;
static double mark_us;
static unsigned was, peak;

/* Steps. */
static struct {
    bool inside, in_driver;
    unsigned sp, driver_sp;
    uint64_t begun, driver_begun, driver_cycles, last_begun;
    uint64_t count, core_min, core_max, whole_max, period_min, period_max;
} steps;

static void refuse(const char *what, const char *of)
{
    fprintf(stderr, "bench_harness: %s: %s\n", what, of);
    exit(2);
}

static void quiet_log(avr_t *from, const int level, const char *format, va_list arguments)
{
    (void)from;
    if (level <= LOG_ERROR)
        vfprintf(stderr, format, arguments);
}

static unsigned state_now(void)
{
    return avr->data[board.core];
}

/* ---- the drive: output and enable line ---- */

static double now_us(void)
{
    return (double)avr->cycle * 1e6 / board.hz + lost_us;
}

static unsigned output_now(void)
{
    return stuck >= 0 ? (unsigned)stuck : dac_code;
}

/* The pump up to now, in tenths of a millisecond: then it is known when the drive went off. */
static void run_pump(void)
{
    while (pumped_us < now_us()) {
        double to = now_us() - pumped_us > 100.0 ? pumped_us + 100.0 : now_us();
        bench_pump_run(&pump, pin_stuck >= 0 ? pin_stuck : enable_level, to - pumped_us);
        pumped_us = to;
        if (bench_pump_holds(&pump) && output_now() > zero_code)
            drive_off_us = -1;
        else if (drive_off_us < 0)
            drive_off_us = (int64_t)(pumped_us - mark_us);
    }
}

static void look_at_enable(void)
{
    uint8_t mask = (uint8_t)(1u << board.enable_bit);
    bool driven = avr->data[board.enable_address - 1] & mask; /* DDR lies below PORT */
    int level = !driven ? PUMP_FLOATS : avr->data[board.enable_address] & mask ? 1 : 0;
    if (level != enable_level) {
        run_pump();
        enable_level = level;
    }
}

static void on_output_change(void)
{
    if (output_now() > peak)
        peak = output_now();
    if (output_now() > zero_code)
        zero_cycle = -1;
    else if (zero_cycle < 0)
        zero_cycle = (int64_t)(avr->cycle - mark_cycle);
}

static void on_dac_write(uint16_t code)
{
    run_pump();
    dac_code = code;
    if (first_code < 0) {
        first_code = code;
        first_write_cycle = avr->cycle;
    }
    on_output_change();
}

static void on_conversion(struct avr_irq_t *irq, uint32_t value, void *param)
{
    union {
        avr_adc_mux_t mux;
        uint32_t value;
    } start = {.value = value};
    (void)irq;
    (void)param;
    if (start.mux.kind != ADC_MUX_SINGLE || start.mux.src >= 16)
        return;
    unsigned at_5_v = mv[start.mux.src];
    if ((int)start.mux.src == board.read_back)
        at_5_v = output_now() * VREF_MV / 4096;
    avr_raise_irq(adc + ADC_IRQ_ADC0 + start.mux.src, at_5_v * avr->avcc / VREF_MV);
}

/* ---- strict Intel HEX: a line that breaks a rule ends the process ---- */

static unsigned hex_byte(const char *at, const char *line)
{
    unsigned value;
    char digits[3] = {at[0], at[0] ? at[1] : 0, 0};
    if (strspn(digits, "0123456789ABCDEFabcdef") != 2 || sscanf(digits, "%2x", &value) != 1)
        refuse("bad hex digits", line);
    return value;
}

static size_t load_hex_into(const char *path, uint8_t *into, size_t room, bool cut)
{
    char line[600];
    size_t top = 0;
    bool ended = false;
    FILE *file = fopen(path, "r");
    if (!file)
        refuse("cannot open", path);
    while (fgets(line, sizeof line, file)) {
        line[strcspn(line, "\r\n")] = 0;
        if (ended)
            refuse("a line after the end record", line);
        if (line[0] != ':')
            refuse("no colon", line);
        unsigned count = hex_byte(line + 1, line), sum = 0;
        if (strlen(line) != 11 + 2 * count)
            refuse("wrong length", line);
        for (unsigned i = 0; i < count + 5; i++)
            sum += hex_byte(line + 1 + 2 * i, line);
        if (sum & 0xFF)
            refuse("bad sum", line);
        unsigned address = hex_byte(line + 3, line) << 8 | hex_byte(line + 5, line), type = hex_byte(line + 7, line);
        if (type == 1)
            ended = true;
        else if (cut ? type != 0 && type != 3 : type != 0 || address + count > room)
            refuse("not for this memory", line);
        for (unsigned i = 0; type == 0 && i < count && address + i < room; i++)
            into[address + i] = (uint8_t)hex_byte(line + 9 + 2 * i, line);
        if (type == 0 && address + count > top)
            top = address + count;
    }
    fclose(file);
    if (!ended)
        refuse("no end record", path);
    return top;
}

static void load_eeprom(void)
{
    static uint8_t image[1024];
    size_t room = avr->e2end + 1u;
    memset(image, 0xFF, sizeof image);
    if (board.eeprom)
        load_hex_into(board.eeprom, image, room < sizeof image ? room : sizeof image, false);
    avr_eeprom_desc_t all = {.ee = image, .offset = 0, .size = (uint32_t)(room < sizeof image ? room : sizeof image)};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &all); /* gives -1 on success */
}

/* What runs past the end of the flash is cut off. */
static void load_boot(void)
{
    static uint8_t image[0x8000];
    char *comma = strchr(board.boot, ',');
    if (!comma)
        refuse("--boot FILE.hex,ADDRESS", board.boot);
    *comma = 0;
    unsigned from = (unsigned)strtoul(comma + 1, NULL, 0), end = avr->flashend + 1u;
    memset(image, 0xFF, sizeof image);
    load_hex_into(board.boot, image, sizeof image, true);
    memcpy(avr->flash + from, image + from, end - from);
    avr->codeend = avr->flashend;
    avr->reset_pc = avr->pc = from;
}

static void build_board(void)
{
    elf_firmware_t firmware;

    memset(&firmware, 0, sizeof firmware);
    avr_global_logger_set(quiet_log);
    if (elf_read_firmware(board.elf, &firmware) != 0)
        refuse("cannot read", board.elf);
    avr = avr_make_mcu_by_name(board.mcu);
    if (!avr)
        refuse("this simulator has no", board.mcu);
    avr_init(avr);
    avr->frequency = board.hz;
    avr->vcc = avr->avcc = avr->aref = VREF_MV;
    avr_load_firmware(avr, &firmware);
    load_eeprom();
    if (board.boot)
        load_boot();
    uint32_t flags = 0; /* a program that polls its serial port does not send the simulator to sleep */
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    adc = avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, 0);
    avr_irq_register_notify(adc + ADC_IRQ_OUT_TRIGGER, on_conversion, NULL);
    dac.avr = avr;
    dac.on_write = on_dac_write;
    bench_dac_connect(&dac);
    for (unsigned at = board.end; at <= avr->ramend; at++)
        avr->data[at] = PAINT;
    avr->data[MCUSR_ADDRESS] = 1; /* power-on */
}

/* ---- running ---- */

static unsigned sp_now(void)
{
    return avr->data[R_SPL] | (unsigned)avr->data[R_SPH] << 8;
}

static bool is_driver(unsigned pc)
{
    for (unsigned i = 0; i < board.driver_count; i++)
        if (board.drivers[i] == pc)
            return true;
    return false;
}

static void step_begins(void)
{
    steps.inside = true;
    steps.in_driver = false;
    steps.sp = sp_now();
    steps.begun = avr->cycle;
    steps.driver_cycles = 0;
    if (steps.last_begun) {
        uint64_t period = avr->cycle - steps.last_begun;
        if (period < steps.period_min || !steps.period_min)
            steps.period_min = period;
        if (period > steps.period_max)
            steps.period_max = period;
    }
    steps.last_begun = avr->cycle;
}

static void step_ends(void)
{
    uint64_t whole = avr->cycle - steps.begun, core = whole - steps.driver_cycles;
    steps.inside = false;
    steps.count++;
    if (core < steps.core_min || !steps.core_min)
        steps.core_min = core;
    if (core > steps.core_max)
        steps.core_max = core;
    if (whole > steps.whole_max)
        steps.whole_max = whole;
    if (state_now() == STOPPED && latch_cycle < 0)
        latch_cycle = (int64_t)(avr->cycle - mark_cycle);
}

/* One instruction, after waiting that ends before a cycle. True when it ended a step. */
static bool run_one(avr_cycle_count_t until)
{
    if (avr->pc == avr->reset_pc && avr->cycle > reset_cycle) {
        bench_dac_board_was_reset();
        resets++;
        steps.inside = false;
        steps.last_begun = 0;
        reset_cycle = avr->cycle;
        first_code = -1;
    }
    if (!board.every_turn)
        bench_polls_look(avr, until);
    int state = avr_run(avr);
    if (may_crash && (state == cpu_Done || state == cpu_Crashed)) {
        crashed = true;
        return false;
    }
    if (state == cpu_Done || state == cpu_Crashed) {
        fprintf(stderr, "the firmware has crashed at cycle %llu, pc 0x%x\n", (unsigned long long)avr->cycle, avr->pc);
        exit(3);
    }
    look_at_enable();
    if (!steps.inside) {
        if (avr->pc == board.step)
            step_begins();
        return false;
    }
    if (steps.in_driver) {
        if (sp_now() > steps.driver_sp) {
            steps.in_driver = false;
            steps.driver_cycles += avr->cycle - steps.driver_begun;
        } else {
            return false;
        }
    }
    if (is_driver(avr->pc)) {
        steps.in_driver = true;
        steps.driver_sp = sp_now();
        steps.driver_begun = avr->cycle;
        return false;
    }
    if (sp_now() > steps.sp) {
        step_ends();
        return true;
    }
    return false;
}

static void print_state(void)
{
    printf("S %u %u %u %llu\n", dac_code, state_now(), avr->data[board.core + 1], (unsigned long long)avr->cycle);
}

static void run_steps(unsigned long count, bool print)
{
    uint64_t patience = avr->cycle + 3 * (uint64_t)board.hz; /* a step never takes a second, a bootloader two */
    while (count > 0) {
        if (avr->cycle > patience)
            refuse("no step for a second", "is it lost?");
        if (!run_one(UINT64_MAX))
            continue;
        count--;
        patience = avr->cycle + 3 * (uint64_t)board.hz;
        if (print)
            print_state();
    }
}

/* Time goes by and the part does nothing. */
static void stand_still(double us)
{
    look_at_enable();
    lost_us += us;
    run_pump();
}

static void run_us(unsigned long us)
{
    double until = now_us() + (double)us;
    avr_cycle_count_t until_cycle = avr->cycle + (avr_cycle_count_t)us * board.hz / 1000000u;
    while (now_us() < until) {
        if (crashed)
            stand_still(until - now_us());
        else
            run_one(until_cycle);
    }
}

/* ---- commands ---- */

static long long in_us(int64_t cycles)
{
    return cycles < 0 ? -1 : (long long)(cycles * 1000000 / board.hz);
}

static void set_codes(char *words)
{
    for (unsigned i = 0; i < board.inputs; i++) {
        char *end;
        unsigned long code = strtoul(words, &end, 10);
        if (end == words || code > 1023)
            refuse("a code for every input, 0 to 1023", words);
        mv[board.channels[i]] = (unsigned)((code * VREF_MV + 1022) / 1023);
        words = end;
    }
}

static void mark(void)
{
    run_pump();
    mark_cycle = avr->cycle;
    mark_us = now_us();
    mark_writes = dac.writes;
    was = output_now();
    peak = 0;
    zero_cycle = output_now() <= zero_code ? 0 : -1;
    drive_off_us = bench_pump_holds(&pump) && output_now() > zero_code ? -1 : 0;
    latch_cycle = state_now() == STOPPED ? 0 : -1;
}

static void report(void)
{
    run_pump();
    printf("R was=%u peak=%u zero_us=%lld latch_us=%lld off_us=%lld dac=%u out=%u enabled=%d state=%u cause=%u writes=%llu\n", was,
           peak, in_us(zero_cycle), in_us(latch_cycle), (long long)drive_off_us, dac_code, output_now(),
           bench_pump_holds(&pump), state_now(), avr->data[board.core + 1], (unsigned long long)(dac.writes - mark_writes));
}

static unsigned stack_used(void)
{
    /* From the top down to a stretch that nothing has touched: in the middle lies the mark. */
    unsigned at = avr->ramend, untouched = 0;
    for (; at >= board.end && untouched < 32; at--)
        untouched = avr->data[at] == PAINT ? untouched + 1 : 0;
    return avr->ramend - at - untouched;
}

static void stats(void)
{
    printf("T steps=%llu core_min=%llu core_max=%llu whole_max=%llu period_min=%llu period_max=%llu stack=%u first_code=%d "
           "first_us=%lld resets=%llu writes=%llu stores=%llu faults=%llu\n",
           (unsigned long long)steps.count, (unsigned long long)steps.core_min, (unsigned long long)steps.core_max,
           (unsigned long long)steps.whole_max, (unsigned long long)steps.period_min,
           (unsigned long long)steps.period_max, stack_used(), first_code,
           in_us((int64_t)(first_write_cycle - reset_cycle)), (unsigned long long)resets,
           (unsigned long long)dac.writes, (unsigned long long)dac.stores, (unsigned long long)(dac.driven_high + dac.other_bytes));
}

static void reset(const char *cause)
{
    static const struct {
        const char *name;
        uint8_t mcusr;
    } known[] = {{"por", 1}, {"ext", 2}, {"bor", 4}, {"wdt", 8}, {"none", 0}};
    for (unsigned i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(known[i].name, cause) == 0) {
            avr_reset(avr);
            bench_dac_board_was_reset();
            avr->data[MCUSR_ADDRESS] = known[i].mcusr;
            steps.inside = false;
            steps.last_begun = 0;
            reset_cycle = avr->cycle;
            first_code = -1;
            return;
        }
    refuse("no such cause of a reset", cause);
}

static void hold(double us)
{
    avr_reset(avr);
    bench_dac_board_was_reset();
    avr->data[board.enable_address - 1] = 0;
    stand_still(us);
    reset("ext");
}

/* No power: nothing pumps, the memory of the part is what it happens to be. */
static void power_cycle(double us)
{
    avr->data[board.enable_address - 1] = 0;
    on_dac_write(0);
    stand_still(us);
    on_dac_write(dac.stored);
    for (unsigned at = 0x60; at <= avr->ramend; at++)
        avr->data[at] = at >= board.end ? PAINT : (uint8_t)(at * 37);
    reset("por");
}

/* Goes on in a child; the parent waits for it. A child that fails ends the parent. */
static void begin(void)
{
    int status;
    fflush(stdout);
    pid_t child = fork();
    if (child < 0)
        refuse("cannot fork", "begin");
    if (child == 0)
        return;
    if (waitpid(child, &status, 0) < 0 || !WIFEXITED(status) || WEXITSTATUS(status) != 0)
        exit(3);
}

/* Byte by byte, because a child reads on where its parent stopped. */
static bool read_line(char *line, size_t room)
{
    size_t length = 0;
    for (;;) {
        char c;
        if (read(STDIN_FILENO, &c, 1) != 1)
            return false;
        if (c == '\n')
            break;
        if (length + 1 < room)
            line[length++] = c;
    }
    line[length] = 0;
    return true;
}

static void do_command(char *line)
{
    char word[16] = "";
    int used = 0;
    sscanf(line, "%15s %n", word, &used);
    bench_polls_forget();
    char *rest = line + used;
    unsigned long number = strtoul(rest, NULL, 0);

    if (!strcmp(word, "codes"))
        set_codes(rest);
    else if (!strcmp(word, "mv")) {
        unsigned input, value;
        if (sscanf(rest, "%u %u", &input, &value) != 2 || input >= board.inputs || value > VREF_MV)
            refuse("mv INPUT MV", line);
        mv[board.channels[input]] = value;
    } else if (!strcmp(word, "steps"))
        run_steps(number, true);
    else if (!strcmp(word, "quiet"))
        run_steps(number, false);
    else if (!strcmp(word, "us"))
        run_us(number);
    else if (!strcmp(word, "look"))
        print_state();
    else if (!strcmp(word, "zero"))
        zero_code = (unsigned)number;
    else if (!strcmp(word, "mark"))
        mark();
    else if (!strcmp(word, "report"))
        report();
    else if (!strcmp(word, "begin"))
        begin();
    else if (!strcmp(word, "end")) {
        fflush(stdout);
        _exit(0);
    } else if (!strcmp(word, "reset"))
        reset(rest);
    else if (!strcmp(word, "stuck")) {
        run_pump();
        stuck = (int)strtol(rest, NULL, 0);
        on_output_change();
    } else if (!strcmp(word, "pin")) {
        run_pump();
        pin_stuck = (int)strtol(rest, NULL, 0);
    } else if (!strcmp(word, "weak")) {
        run_pump();
        pump.weak = true;
        pump.on_v = strtod(rest, NULL);
    } else if (!strcmp(word, "memory")) {
        unsigned code, alive;
        if (sscanf(rest, "%u %u", &code, &alive) != 2)
            refuse("memory CODE 0|1", line);
        dac.stored = (uint16_t)code;
        dac.memory_dead = !alive;
    } else if (!strcmp(word, "brave"))
        may_crash = number != 0;
    else if (!strcmp(word, "supply"))
        avr->vcc = avr->avcc = avr->aref = (uint32_t)number;
    else if (!strcmp(word, "freeze"))
        stand_still((double)number);
    else if (!strcmp(word, "hold"))
        hold((double)number);
    else if (!strcmp(word, "cycle"))
        power_cycle(1000.0 * (double)number);
    else if (!strcmp(word, "flip")) {
        unsigned at, bit;
        if (sscanf(rest, "%u %u", &at, &bit) != 2 || at > avr->ramend || bit > 7)
            refuse("flip ADDRESS BIT", line);
        avr->data[at] ^= (uint8_t)(1u << bit);
    } else if (!strcmp(word, "deaf") || !strcmp(word, "sda") || !strcmp(word, "scl")) {
        bool *fault = word[0] == 'd' ? &dac.deaf : word[1] == 'd' ? &dac.sda_low : &dac.scl_low;
        *fault = number != 0;
        bench_dac_faults_changed();
    } else if (!strcmp(word, "jump"))
        avr->pc = (avr_flashaddr_t)number;
    else if (!strcmp(word, "led"))
        printf("L %u\n", avr->data[board.led_address] >> board.led_bit & 1u);
    else if (!strcmp(word, "clear"))
        steps.core_min = steps.core_max = steps.whole_max = steps.period_min = steps.period_max = steps.last_begun = 0;
    else if (!strcmp(word, "stats"))
        stats();
    else
        refuse("unknown command", line);
}

static unsigned read_list(const char *text, unsigned *into, unsigned most)
{
    unsigned count = 0;
    for (const char *at = text; *at && count < most; count++) {
        char *end;
        into[count] = (unsigned)strtoul(at, &end, 0);
        if (end == at)
            refuse("a list of numbers", text);
        at = *end == ',' ? end + 1 : end;
    }
    return count;
}

static void read_options(int argc, char **argv)
{
    static const struct option known[] = {
        {"mcu", required_argument, NULL, 'm'},      {"hz", required_argument, NULL, 'h'},
        {"elf", required_argument, NULL, 'f'},      {"eeprom", required_argument, NULL, 'e'},
        {"channels", required_argument, NULL, 'c'}, {"dac", required_argument, NULL, 'd'},
        {"led", required_argument, NULL, 'l'},      {"core", required_argument, NULL, 'o'},
        {"step", required_argument, NULL, 's'},     {"drivers", required_argument, NULL, 'r'},
        {"end", required_argument, NULL, 'n'},      {"enable", required_argument, NULL, 'a'},
        {"readback", required_argument, NULL, 'b'}, {"boot", required_argument, NULL, 't'},
        {"every-turn", no_argument, NULL, 'y'},     {NULL, 0, NULL, 0},
    };
    unsigned pair[3];
    for (int c; (c = getopt_long(argc, argv, "", known, NULL)) != -1;) {
        switch (c) {
        case 'm': board.mcu = optarg; break;
        case 'h': board.hz = (unsigned)strtoul(optarg, NULL, 10); break;
        case 'f': board.elf = optarg; break;
        case 'e': board.eeprom = optarg; break;
        case 'c': board.inputs = read_list(optarg, board.channels, 8); break;
        case 'd':
            dac.port = optarg[0];
            if (read_list(optarg + 2, pair, 3) != 3)
                refuse("--dac PORT,SDA,SCL,PORTADDRESS", optarg);
            dac.sda = pair[0];
            dac.scl = pair[1];
            dac.port_address = pair[2];
            break;
        case 'l':
            if (read_list(optarg, pair, 2) != 2)
                refuse("--led ADDRESS,BIT", optarg);
            board.led_address = pair[0];
            board.led_bit = pair[1];
            break;
        case 'a':
            if (read_list(optarg, pair, 2) != 2)
                refuse("--enable ADDRESS,BIT", optarg);
            board.enable_address = pair[0];
            board.enable_bit = pair[1];
            break;
        case 'b': board.read_back = (int)strtol(optarg, NULL, 0); break;
        case 't': board.boot = optarg; break;
        case 'y': board.every_turn = true; break;
        case 'o': board.core = (unsigned)strtoul(optarg, NULL, 0); break;
        case 's': board.step = (unsigned)strtoul(optarg, NULL, 0); break;
        case 'r': board.driver_count = read_list(optarg, board.drivers, 8); break;
        case 'n': board.end = (unsigned)strtoul(optarg, NULL, 0); break;
        default: exit(2);
        }
    }
    if (!board.mcu || !board.elf || !board.hz || !board.inputs || !board.core || !board.step || !board.end || !dac.port ||
        !board.enable_address)
        refuse("something is missing", "see the top of bench_harness.c");
}

int main(int argc, char **argv)
{
    static char line[4096];
    read_options(argc, argv);
    dac.address = 0x60;
    build_board();
    while (read_line(line, sizeof line)) {
        do_command(line);
        if (line[0] != 'q' && line[0] != 'c')
            fflush(stdout);
    }
    return 0;
}
