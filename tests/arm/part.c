/* What the C library asks of a system, on a 32-bit part that tests/arm/run.py emulates: three registers for an order, one for
 * its answer. With tests/avr/core_host.c, which reads orders and writes answers, and the core as it stands. */
#include <stdint.h>
#include <sys/stat.h>

#define PART ((volatile uint32_t *)0x40000000u)
enum { READ = 1, WRITE = 2, EXIT = 3 };

static int asked(uint32_t order, const void *at, int bytes)
{
    PART[0] = (uint32_t)(uintptr_t)at;
    PART[1] = (uint32_t)bytes;
    PART[2] = order;
    return (int)PART[3];
}

int _read(int file, char *into, int bytes)
{
    (void)file;
    return asked(READ, into, bytes);
}

int _write(int file, const char *from, int bytes)
{
    (void)file;
    return asked(WRITE, from, bytes);
}

void _exit(int code)
{
    asked(EXIT, 0, code);
    for (;;) {
    }
}

void *_sbrk(int more)
{
    static char heap[65536];
    static int taken;
    char *at = heap + taken;
    taken += more;
    return at;
}

int _fstat(int file, struct stat *is)
{
    (void)file;
    is->st_mode = S_IFCHR;
    return 0;
}

int _isatty(int file)
{
    (void)file;
    return 0;
}

int _close(int file)
{
    (void)file;
    return -1;
}

int _lseek(int file, int to, int from)
{
    (void)file;
    (void)to;
    (void)from;
    return -1;
}

int _kill(int process, int signal)
{
    (void)process;
    (void)signal;
    return -1;
}

int _getpid(void)
{
    return 1;
}
