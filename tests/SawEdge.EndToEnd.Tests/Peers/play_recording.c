/* A saw controller played by libmodbus: the rows of a recording, written into registers at their times.
 *
 * Usage: play_recording PORT RECORDING      (compile with: gcc -O2 play_recording.c -lmodbus)
 *        play_recording LINE RECORDING      (unit 5 on a serial line, a name that begins with /)
 *
 * The registers, the beginning of time and the output are those of play_recording.py. The recording must have the columns of
 * the heading below and no quotes. It serves one client at a time. */
#define _GNU_SOURCE /* strptime, timegm */
#include <errno.h>
#include <modbus/modbus.h>
#include <poll.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#define HEADING "time,saw,head_position,motor_load,blade_speed,cycle_active,cutting,blade_running,fault_code,mode,job,part_count,bar_id,blade_id\n"

enum { TIME, SAW, HEAD, LOAD, SPEED, CYCLE, CUTTING, RUNNING, FAULT, MODE, JOB, COUNT, BAR, BLADE, COLUMNS };

static int64_t milliseconds(clockid_t clock)
{
    struct timespec now;
    clock_gettime(clock, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static int64_t moment(const char *text)
{
    struct tm tm = {0};
    const char *rest = strptime(text, "%Y-%m-%dT%H:%M:%S", &tm);
    return (int64_t)timegm(&tm) * 1000 + (rest != NULL && *rest == '.' ? atoi(rest + 1) : 0);
}

static void text(uint16_t *into, const char *value, int swapped)
{
    size_t length = strlen(value) < 16 ? strlen(value) : 16;
    memset(into, 0, 8 * sizeof *into);
    for (size_t i = 0; i < length; i++)
        into[i / 2] |= (uint16_t)((uint8_t)value[i] << ((i % 2 == 0) != swapped ? 8 : 0));
}

/* Splits at the commas, empty cells included. */
static void split(char *line, char **cells)
{
    line[strcspn(line, "\r\n")] = '\0';
    for (int i = 0; i < COLUMNS; i++)
        cells[i] = line == NULL ? "" : strsep(&line, ",");
}

static void load(modbus_mapping_t *map, char **cells)
{
    double head = atof(cells[HEAD]) * 10;
    float kilowatts = (float)atof(cells[LOAD]);
    uint32_t bits;
    uint32_t count = (uint32_t)strtoul(cells[COUNT], NULL, 10);
    memcpy(&bits, &kilowatts, sizeof bits);
    map->tab_registers[0] = (uint16_t)(int16_t)(head < 0 ? head - 0.5 : head + 0.5);
    map->tab_registers[10] = (uint16_t)bits;
    map->tab_registers[11] = (uint16_t)(bits >> 16);
    text(map->tab_registers + 20, cells[JOB], 0);
    text(map->tab_registers + 28, cells[BLADE], 0);
    map->tab_input_registers[100] = (uint16_t)(count >> 16);
    map->tab_input_registers[101] = (uint16_t)count;
    map->tab_input_registers[102] = (uint16_t)(atof(cells[SPEED]) * 10 + 0.5);
    map->tab_input_registers[103] = strcmp(cells[MODE], "automatic") == 0 ? 2 : 0;
    text(map->tab_input_registers + 104, cells[BAR], 1);
    map->tab_input_registers[120] = (uint16_t)atoi(cells[FAULT]);
    map->tab_input_bits[7] = strcmp(cells[CYCLE], "true") == 0;
    map->tab_input_bits[8] = strcmp(cells[RUNNING], "true") == 0;
    map->tab_bits[3] = strcmp(cells[CUTTING], "true") == 0;
}

int main(int argc, char **argv)
{
    static char line[4096];
    char *cells[COLUMNS];
    FILE *recording = argc == 3 ? fopen(argv[2], "r") : NULL;
    if (recording == NULL || fgets(line, sizeof line, recording) == NULL || strcmp(line, HEADING) != 0) {
        fprintf(stderr, "usage: %s PORT RECORDING; the recording's columns: %s", argv[0], HEADING);
        return 2;
    }

    int serial = argv[1][0] == '/';
    modbus_t *context = serial ? modbus_new_rtu(argv[1], 115200, 'N', 8, 2) : modbus_new_tcp("127.0.0.1", atoi(argv[1]));
    modbus_mapping_t *map = modbus_mapping_new(16, 16, 200, 200);
    int listening = context == NULL || map == NULL ? -1 : serial ? modbus_set_slave(context, 5) | modbus_connect(context) : modbus_tcp_listen(context, 1);
    if (listening < 0) {
        fprintf(stderr, "%s\n", modbus_strerror(errno));
        return 1;
    }

    int more = fgets(line, sizeof line, recording) != NULL;
    if (more)
        split(line, cells);
    int64_t first = more ? moment(cells[TIME]) : 0, start = -1, latest = 0;
    if (more)
        load(map, cells);

    if (serial)
        printf("serving\n"), fflush(stdout);
    int client = serial ? modbus_get_socket(context) : -1;
    for (;;) {
        int64_t due = more && start >= 0 ? start + moment(cells[TIME]) - first : -1;
        int64_t wait = due < 0 ? -1 : due - milliseconds(CLOCK_MONOTONIC);
        if (due >= 0 && wait <= 0) {
            load(map, cells);
            latest = -wait > latest ? -wait : latest;
            more = fgets(line, sizeof line, recording) != NULL;
            if (more)
                split(line, cells);
            else
                printf("played, latest row %lld ms late\n", (long long)latest), fflush(stdout);
            continue;
        }

        struct pollfd ready = {.fd = client < 0 ? listening : client, .events = POLLIN};
        if (poll(&ready, 1, (int)wait) <= 0)
            continue;
        if (client < 0) {
            client = modbus_tcp_accept(context, &listening);
            continue;
        }

        uint8_t request[MODBUS_TCP_MAX_ADU_LENGTH];
        int length = modbus_receive(context, request);
        if (length < 0 && serial) {
            modbus_flush(context);
            continue;
        }

        if (length < 0) {
            modbus_close(context);
            client = -1;
            continue;
        }

        if (start < 0 && length > 0) {
            start = milliseconds(CLOCK_MONOTONIC);
            printf("playing from %lld\n", (long long)milliseconds(CLOCK_REALTIME)), fflush(stdout);
        }

        if (length > 0)
            modbus_reply(context, request, length, map);
    }
}
