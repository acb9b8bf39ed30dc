/* Polls a Modbus TCP server with libmodbus's own client as fast as it goes: the yardstick for another client.
 *
 * Usage: poll_client PORT POLLS        (compile with: gcc -O2 poll_client.c -lmodbus)
 *
 * Reads 20 holding registers with function 3 and prints polls per second, and the median and 99th percentile of one poll in
 * microseconds. */
#include <errno.h>
#include <modbus/modbus.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static double seconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec + now.tv_nsec * 1e-9;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

int main(int argc, char **argv)
{
    if (argc != 3) {
        fprintf(stderr, "usage: %s PORT POLLS\n", argv[0]);
        return 2;
    }

    int polls = atoi(argv[2]);
    double *times = malloc(sizeof *times * (size_t)polls);
    uint16_t registers[20];
    modbus_t *context = modbus_new_tcp("127.0.0.1", atoi(argv[1]));
    if (times == NULL || context == NULL || modbus_connect(context) < 0) {
        fprintf(stderr, "%s\n", modbus_strerror(errno));
        return 1;
    }

    modbus_set_slave(context, 1);
    for (int i = 0; i < polls / 10; i++)
        if (modbus_read_registers(context, 100, 20, registers) != 20)
            return 1;
    double start = seconds(), last = start;
    for (int i = 0; i < polls; i++) {
        if (modbus_read_registers(context, 100, 20, registers) != 20) {
            fprintf(stderr, "%s\n", modbus_strerror(errno));
            return 1;
        }
        double now = seconds();
        times[i] = now - last;
        last = now;
    }

    qsort(times, (size_t)polls, sizeof *times, ascending);
    printf("%.1f %.2f %.2f\n", polls / (last - start), times[polls / 2] * 1e6, times[polls - 1 - polls / 100] * 1e6);
    modbus_close(context);
    modbus_free(context);
    return registers[0] == 54321 ? 0 : 1;
}
