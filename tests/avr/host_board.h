/* What the sketch needs of an Arduino core, on the host: a 12-bit board whose core cannot tell how much its
 * serial port takes. Included before the sketch; time passes 5 us with every look at the clock.
 *
 * Runs setup() and loop() for two seconds of its own time and prints what the sketch sends. */
#include <stdint.h>
#include <stdio.h>

enum { A0 = 14, A1 = 15 };

static uint32_t board_us = 4294000000u; /* wraps after 0.97 s */
static int resolution = 10;

static uint32_t micros()
{
    return board_us += 5;
}

static void analogReadResolution(int bits)
{
    resolution = bits;
}

static int analogRead(uint8_t pin)
{
    board_us += 20;
    return (pin == A0 ? 3000 : 1000) >> (12 - resolution);
}

static struct {
    void begin(uint32_t) {}
    int availableForWrite() { return can_tell ? 63 : 0; }
    size_t write(uint8_t byte)
    {
        putchar(byte);
        return 1;
    }
    bool can_tell;
} Serial;

void setup();
void loop();

int main(int argc, char **)
{
    Serial.can_tell = argc == 1;
    uint32_t end_us = board_us + 2000000u;
    setup();
    while ((int32_t)(board_us - end_us) < 0)
        loop();
    return 0;
}
