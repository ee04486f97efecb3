/* Seconds that SuiteSparse KLU needs for one frequency of a system that beside.py wrote: values filled in, klu_z_refactor, klu_z_tsolve. The
   best of all settings of scaling, block form and ordering, each the best of several runs. */
#include <klu.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec + 1e-9 * t.tv_nsec;
}

static void *part(FILE *file, size_t size, size_t count) {
    void *data = malloc(size * count);
    if (!data || fread(data, size, count, file) != count) exit(1);
    return data;
}

int main(int argc, char **argv) {
    FILE *file = argc == 2 ? fopen(argv[1], "rb") : NULL;
    if (!file) return 1;
    int *head = part(file, sizeof(int), 5), n = head[0], entries = head[1], output = head[2], count = head[3], runs = head[4];
    int *starts = part(file, sizeof(int), n + 1), *rows = part(file, sizeof(int), entries);
    double *g = part(file, sizeof(double), entries), *c = part(file, sizeof(double), entries);
    double *omega = part(file, sizeof(double), count);
    double *a = malloc(2 * sizeof(double) * entries), *y = malloc(2 * sizeof(double) * n), best = INFINITY;
    for (int setting = 0; setting < 16; setting++) {
        klu_common common;
        klu_defaults(&common);
        common.scale = setting % 4 - 1;
        common.btf = setting / 4 % 2;
        common.ordering = setting / 8;
        klu_symbolic *symbolic = klu_analyze(n, starts, rows, &common);
        klu_numeric *numeric = NULL;
        for (int run = 0; run < runs; run++) {
            double start = now();
            for (int f = 0; f < count; f++) {
                for (int i = 0; i < entries; i++) {
                    a[2 * i] = g[i];
                    a[2 * i + 1] = omega[f] * c[i];
                }
                if (numeric) klu_z_refactor(starts, rows, a, symbolic, numeric, &common);
                else numeric = klu_z_factor(starts, rows, a, symbolic, &common);
                if (!numeric) return 1;
                memset(y, 0, 2 * sizeof(double) * n);
                y[2 * output] = 1.0;
                klu_z_tsolve(symbolic, numeric, n, 1, y, 0, &common);
            }
            best = fmin(best, (now() - start) / count);
        }
        klu_z_free_numeric(&numeric, &common);
        klu_free_symbolic(&symbolic, &common);
    }
    printf("%.12g\n", best);
    return 0;
}
