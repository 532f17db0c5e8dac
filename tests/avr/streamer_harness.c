/* A simulated board with an ATmega328P: loads firmware, puts voltages on its ADC pins and its serial port
 * on a pseudo-terminal. Runs as a process of its own and ends when its stdin ends.
 *
 *     streamer_harness --elf FILE --script FILE [--seed N] [--vref-mv MV] [--unpaced] [--wait-open]
 *                      [--reset-on-open] [--stop-ms MS]
 *
 * stdout: `PTY <path>` at once; when it ends, when timer 1 gave its first tick (compare match B) since
 * power-up and how many it gave, and for each ADC pin that was sampled
 *     TICKED first_cycle=C n=N
 *     SAMPLED pin=P n=N gap_cycles=MIN..MAX after_tick_cycles=MIN..MAX
 * where `gap` is between two samplings of the pin and `after_tick` from the timer tick to its sampling.
 *
 * --unpaced      as fast as the machine can, not in real time
 * --wait-open    power comes on only when a program opens the port
 * --reset-on-open  every further opening resets the board, as many boards wire it
 * --stop-ms      the board is unplugged after that much simulated time (once everything was read)
 *
 * Not simulated: the ADC's sample-and-hold instant (the voltage is taken when the conversion starts, on
 * silicon two ADC clocks later), settling, non-linearity. The simulator computes mV * 1023 / vref, rounded
 * down; silicon has 1024. The simulator knows no start of a conversion by timer 1: `on_compare_b` adds it. */
#define _GNU_SOURCE
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <simavr/avr_adc.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_interrupts.h>
#include <simavr/sim_time.h>

#include "cable.h"
#include "script.h"

#define CPU_HZ 16000000u
#define CYCLES_PER_MS (CPU_HZ / 1000u)

/* ATmega328P data sheet: ADCSRA bit 5 is ADATE, ADCSRB bits 2:0 are ADTS; 5 is timer 1 compare match B. */
#define ADCSRA_ADDRESS 0x7A
#define ADATE_MASK 0x20
#define ADCSRB_ADDRESS 0x7B
#define ADTS_MASK 0x07
#define ADTS_TIMER1_COMPARE_B 5
#define TIMER1_COMPB_VECTOR 12

struct options {
    const char *elf, *script;
    uint64_t seed;
    unsigned vref_mv;
    bool unpaced, wait_open, reset_on_open;
    double stop_ms;
};

struct pin_record {
    uint64_t n, last, gap_min, gap_max, tick_min, tick_max;
};

static struct options options = {.vref_mv = 5000, .seed = 1, .stop_ms = INFINITY};
static avr_t *avr;
static avr_irq_t *adc;
static struct script *script;
static struct pin_record pins[SCRIPT_PINS];
static uint64_t tick_cycle, first_tick_cycle, ticks;
static uint8_t outgoing[4096]; /* of one simulated millisecond: at most 100 bytes at 1 Mbaud */
static size_t outgoing_count;

static void quiet_log(avr_t *from, const int level, const char *format, va_list arguments)
{
    (void)from;
    if (level <= LOG_ERROR)
        vfprintf(stderr, format, arguments);
}

static void never_sleep(avr_t *self, avr_cycle_count_t cycles)
{
    (void)self;
    (void)cycles; /* simulated sleep takes no real time; pacing is done once a millisecond */
}

static void on_uart_byte(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)param;
    if (outgoing_count < sizeof outgoing)
        outgoing[outgoing_count++] = (uint8_t)value;
}

static void record_sampling(struct pin_record *pin)
{
    if (ticks == 0)
        return; /* a trial conversion before sampling begins */
    uint64_t gap = avr->cycle - pin->last, after_tick = avr->cycle - tick_cycle;
    if (pin->n > 0) {
        pin->gap_min = pin->n == 1 || gap < pin->gap_min ? gap : pin->gap_min;
        pin->gap_max = gap > pin->gap_max ? gap : pin->gap_max;
    }
    pin->tick_min = pin->n == 0 || after_tick < pin->tick_min ? after_tick : pin->tick_min;
    pin->tick_max = after_tick > pin->tick_max ? after_tick : pin->tick_max;
    pin->last = avr->cycle;
    pin->n++;
}

/* A conversion starts: the pin's voltage of this moment goes in. */
static void on_conversion(struct avr_irq_t *irq, uint32_t value, void *param)
{
    union {
        avr_adc_mux_t mux;
        uint32_t value;
    } start = {.value = value};
    (void)irq;
    (void)param;
    if (start.mux.kind != ADC_MUX_SINGLE || start.mux.src >= SCRIPT_PINS)
        return;
    double mv = script_mv(script, start.mux.src, (double)avr->cycle / CYCLES_PER_MS);
    mv = fmin(fmax(mv, 0.0), options.vref_mv);
    avr_raise_irq(adc + ADC_IRQ_ADC0 + start.mux.src, (uint32_t)lround(mv));
    record_sampling(&pins[start.mux.src]);
}

/* Timer 1 compare match B: starts a conversion if the firmware has set the ADC up for that. */
static void on_compare_b(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)param;
    if (value == 0)
        return;
    tick_cycle = avr->cycle;
    if (ticks++ == 0)
        first_tick_cycle = avr->cycle;
    if ((avr->data[ADCSRA_ADDRESS] & ADATE_MASK) && (avr->data[ADCSRB_ADDRESS] & ADTS_MASK) == ADTS_TIMER1_COMPARE_B)
        avr_raise_irq(adc + ADC_IRQ_IN_TRIGGER, 1);
}

static void build_board(void)
{
    elf_firmware_t firmware;

    memset(&firmware, 0, sizeof firmware);
    avr_global_logger_set(quiet_log);
    if (elf_read_firmware(options.elf, &firmware) != 0) {
        fprintf(stderr, "%s: not an AVR firmware that can be read\n", options.elf);
        exit(2);
    }
    avr = avr_make_mcu_by_name("atmega328p");
    if (!avr) {
        fprintf(stderr, "this simulator has no atmega328p\n");
        exit(2);
    }
    avr_init(avr);
    avr->frequency = CPU_HZ; /* the ELF carries neither clock nor voltages */
    avr->vcc = avr->avcc = avr->aref = options.vref_mv;
    avr_load_firmware(avr, &firmware);
    avr->sleep = never_sleep;

    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_uart_byte, NULL);

    adc = avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, 0);
    avr_irq_register_notify(adc + ADC_IRQ_OUT_TRIGGER, on_conversion, NULL);
    avr_irq_register_notify(avr_get_interrupt_irq(avr, TIMER1_COMPB_VECTOR) + AVR_INT_IRQ_PENDING, on_compare_b, NULL);
}

static void run_one_ms(uint64_t until_cycle)
{
    while (avr->cycle < until_cycle) {
        int state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed) {
            fprintf(stderr, "the firmware has crashed at cycle %llu, pc 0x%x\n", (unsigned long long)avr->cycle,
                    avr->pc);
            exit(3);
        }
    }
}

/* Waits until the real clock has come as far as the simulated one. A lag of more than 0.2 s (a stopped
 * process, a reader that slept) is not caught up. */
static void pace(void)
{
    static struct timespec due;
    struct timespec now;

    if (options.unpaced)
        return;
    clock_gettime(CLOCK_MONOTONIC, &now);
    double late = (double)(now.tv_sec - due.tv_sec) + (double)(now.tv_nsec - due.tv_nsec) * 1e-9;
    if (due.tv_sec == 0 || late > 0.2)
        due = now;
    due.tv_nsec += 1000000;
    if (due.tv_nsec >= 1000000000) {
        due.tv_nsec -= 1000000000;
        due.tv_sec++;
    }
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL);
}

static void run_board(void)
{
    double end_ms = options.stop_ms;
    cable_openings(); /* openings before power-up reset nothing */
    for (uint64_t ms = 1; (double)ms <= end_ms; ms++) {
        run_one_ms(ms * CYCLES_PER_MS);
        if (!cable_send(outgoing, outgoing_count) || !parent_is_there())
            return;
        outgoing_count = 0;
        if (cable_openings() > 0 && options.reset_on_open)
            avr_reset(avr);
        pace();
    }
    cable_drain();
}

static void print_record(void)
{
    printf("TICKED first_cycle=%llu n=%llu\n", (unsigned long long)first_tick_cycle, (unsigned long long)ticks);
    for (unsigned i = 0; i < SCRIPT_PINS; i++) {
        const struct pin_record *pin = &pins[i];
        if (pin->n > 0)
            printf("SAMPLED pin=%u n=%llu gap_cycles=%llu..%llu after_tick_cycles=%llu..%llu\n", i,
                   (unsigned long long)pin->n, (unsigned long long)pin->gap_min, (unsigned long long)pin->gap_max,
                   (unsigned long long)pin->tick_min, (unsigned long long)pin->tick_max);
    }
    fflush(stdout);
}

static void read_options(int argc, char **argv)
{
    static const struct option known[] = {
        {"elf", required_argument, NULL, 'e'},     {"script", required_argument, NULL, 's'},
        {"seed", required_argument, NULL, 'n'},    {"vref-mv", required_argument, NULL, 'v'},
        {"unpaced", no_argument, NULL, 'u'},       {"wait-open", no_argument, NULL, 'w'},
        {"reset-on-open", no_argument, NULL, 'r'}, {"stop-ms", required_argument, NULL, 't'},
        {NULL, 0, NULL, 0},
    };
    for (int c; (c = getopt_long(argc, argv, "", known, NULL)) != -1;) {
        switch (c) {
        case 'e': options.elf = optarg; break;
        case 's': options.script = optarg; break;
        case 'n': options.seed = strtoull(optarg, NULL, 10); break;
        case 'v': options.vref_mv = (unsigned)strtoul(optarg, NULL, 10); break;
        case 'u': options.unpaced = true; break;
        case 'w': options.wait_open = true; break;
        case 'r': options.reset_on_open = true; break;
        case 't': options.stop_ms = strtod(optarg, NULL); break;
        default: exit(2);
        }
    }
    if (!options.elf || !options.script || optind != argc) {
        fprintf(stderr, "use: %s --elf FILE --script FILE [options]\n", argv[0]);
        exit(2);
    }
}

int main(int argc, char **argv)
{
    read_options(argc, argv);
    script = script_load(options.script, options.seed);
    build_board();
    cable_open();
    if (options.wait_open) {
        if (!cable_wait_for_open())
            return 0;
        usleep(100000); /* the program sets the port up and clears what is old */
    }
    run_board();
    print_record();
    return 0;
}
