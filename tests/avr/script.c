#include "script.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct point {
    double t_ms, mv;
};

struct track {
    struct point *points;
    size_t count, at; /* at: last point that is not after the time asked for */
    double noise_sd;
};

struct script {
    struct track tracks[SCRIPT_PINS];
    uint64_t state;
};

static void refuse(const char *path, unsigned line, const char *why)
{
    fprintf(stderr, "script %s:%u: %s\n", path, line, why);
    exit(2);
}

static void add_point(struct track *track, double t_ms, double mv)
{
    struct point *grown = realloc(track->points, (track->count + 1) * sizeof *grown);
    if (!grown)
        abort();
    track->points = grown;
    track->points[track->count++] = (struct point){t_ms, mv};
}

static void read_line(struct script *script, char *text, const char *path, unsigned number)
{
    double t_ms, mv;
    unsigned pin;
    char extra;

    text[strcspn(text, "#\n")] = 0;
    if (text[strspn(text, " \t\r")] == 0)
        return;
    if (sscanf(text, " noise %u %lf %c", &pin, &mv, &extra) == 2) {
        if (pin >= SCRIPT_PINS || !(mv >= 0))
            refuse(path, number, "noise needs a pin 0 .. 7 and a standard deviation not below 0");
        script->tracks[pin].noise_sd = mv;
        return;
    }
    if (sscanf(text, "%lf %u %lf %c", &t_ms, &pin, &mv, &extra) != 3 || !isfinite(t_ms) || !isfinite(mv))
        refuse(path, number, "expected `T_MS PIN MV` or `noise PIN SD_MV`");
    if (pin >= SCRIPT_PINS)
        refuse(path, number, "no such pin: 0 .. 7");
    struct track *track = &script->tracks[pin];
    if (track->count > 0 && t_ms < track->points[track->count - 1].t_ms)
        refuse(path, number, "time goes back");
    add_point(track, t_ms, mv);
}

struct script *script_load(const char *path, uint64_t seed)
{
    struct script *script = calloc(1, sizeof *script);
    FILE *file = fopen(path, "r");
    char text[256];
    unsigned number = 0;

    if (!script)
        abort();
    if (!file) {
        perror(path);
        exit(2);
    }
    script->state = seed;
    while (fgets(text, sizeof text, file))
        read_line(script, text, path, ++number);
    fclose(file);
    return script;
}

/* splitmix64 (Steele, Lea, Flood 2014), as a number in (0, 1]. */
static double uniform(struct script *script)
{
    uint64_t z = (script->state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    z ^= z >> 31;
    return ((double)(z >> 11) + 1.0) / 9007199254740992.0;
}

/* Box-Muller. */
static double gaussian(struct script *script)
{
    double radius = sqrt(-2.0 * log(uniform(script)));
    return radius * cos(2.0 * 3.14159265358979323846 * uniform(script));
}

double script_mv(struct script *script, unsigned pin, double t_ms)
{
    if (pin >= SCRIPT_PINS)
        return 0.0;
    struct track *track = &script->tracks[pin];
    if (track->count == 0)
        return 0.0;
    while (track->at + 1 < track->count && track->points[track->at + 1].t_ms <= t_ms)
        track->at++;

    const struct point *from = &track->points[track->at];
    double mv = from->mv;
    if (track->at + 1 < track->count && t_ms > from->t_ms) {
        const struct point *to = from + 1;
        mv += (to->mv - from->mv) * (t_ms - from->t_ms) / (to->t_ms - from->t_ms);
    }
    if (track->noise_sd > 0)
        mv += track->noise_sd * gaussian(script);
    return mv;
}
