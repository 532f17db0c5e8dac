/* What the sketch of the driving board needs of an Arduino core, on the host. Included before the sketch.
 *
 * Arguments: codes of the inputs at rest, `/`, pressed, `/`, microseconds for which the DAC's bus hangs. At rest for one second, pressed for
 * two, at rest for one, pressed for one; the bus hangs once, two seconds after the start: a transfer waits for it without end, as the
 * usual library does. Prints rising edges of the enable line and the last DAC code: in the half second before, from the hang to
 * its end, in the second after it, and in the last second. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { A0 = 14, A1, A2, A3, A4, A5, A6, A7 };
enum { LOW, HIGH };
enum { OUTPUT = 1 };

static uint64_t now_us;
static uint64_t zero_us;
static int at_rest[8], when_pressed[8];
static uint64_t hang_us;
static unsigned dac, edges;
static bool hung, enabled;

static bool pressed()
{
    uint64_t s = (now_us - zero_us) / 1000000;
    return s == 1 || s == 2 || s == 4;
}

static uint32_t micros()
{
    return (uint32_t)(now_us += 4);
}

static void delay(unsigned long ms)
{
    now_us += ms * 1000u;
}

static inline void delayMicroseconds(unsigned us)
{
    now_us += us;
}

static void pinMode(uint8_t, uint8_t) {}
static inline void analogReadResolution(int) {}

static void digitalWrite(uint8_t pin, uint8_t level)
{
    if (pin != 7)
        return;
    if (level && !enabled)
        edges++;
    enabled = level;
}

static int analogRead(uint8_t pin)
{
    now_us += 112;
    if (pin == A3)
        return (int)(dac >> 2);
    return (pressed() ? when_pressed : at_rest)[pin - A0];
}

static struct {
    void begin() {}
    void setClock(uint32_t) {}
    void beginTransmission(uint8_t) { bytes = 0; }
    void write(uint8_t byte) { code[bytes++ & 1] = byte; }
    uint8_t endTransmission()
    {
        now_us += 80;
        if (!hung && now_us - zero_us > 2000000) {
            hung = true;
            now_us += hang_us;
        }
        dac = (unsigned)code[0] << 8 | code[1];
        return 0;
    }
    unsigned bytes;
    uint8_t code[2];
} Wire;

void setup();
void loop();

static void run_until(uint64_t us)
{
    edges = 0;
    while (now_us - zero_us < us)
        loop();
    printf("%u %u\n", edges, dac);
}

int main(int argc, char **argv)
{
    int *of[] = {at_rest, when_pressed};
    int list = 0, n = 0;
    for (int i = 1; i < argc; i++) {
        if (!strcmp(argv[i], "/")) {
            list++;
            n = 0;
        } else if (list < 2)
            of[list][n++] = atoi(argv[i]);
        else
            hang_us = strtoull(argv[i], 0, 10);
    }
    setup();
    zero_us = now_us;
    edges = 0;
    while (now_us - zero_us < 1500000)
        loop();
    run_until(2000000);
    run_until(2000000 + hang_us);
    run_until(3000000 + hang_us);
    run_until(5000000);
    return 0;
}
