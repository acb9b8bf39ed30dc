/* Typed values in a libmodbus server, for tests of another implementation's client.
 *
 * Usage: typed_values PORT | LINE  (compile with: gcc -O2 typed_values.c -lmodbus)
 * Modbus TCP on the port, or unit 1 by RTU on the serial line, whose name begins with /.
 *
 * The values and their places are those of typed_values.py. The orders are spelled out here: libmodbus's own functions for
 * floats mean different orders by the same names from version to version (its issues 358, 611 and 665).
 * It serves one client at a time. */
#include <errno.h>
#include <modbus/modbus.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Bytes, most significant first, into registers in the four orders: abcd, cdab, badc, dcba. */
static void typed(uint16_t *into, uint64_t value, int words)
{
    for (int order = 0; order < 4; order++) {
        for (int i = 0; i < words; i++) {
            int from_top = (order == 1 || order == 3) ? words - 1 - i : i;
            uint16_t word = (uint16_t)(value >> (16 * (words - 1 - from_top)));
            into[order * words + i] = order >= 2 ? (uint16_t)(word << 8 | word >> 8) : word;
        }
    }
}

static void text(uint16_t *into, const char *value, int swapped)
{
    size_t length = strlen(value);
    for (size_t i = 0; i < length; i++)
        into[i / 2] |= (uint16_t)((uint8_t)value[i] << ((i % 2 == 0) != swapped ? 8 : 0));
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: %s PORT | LINE\n", argv[0]);
        return 2;
    }

    int serial = argv[1][0] == '/';
    modbus_t *context = serial ? modbus_new_rtu(argv[1], 19200, 'N', 8, 2) : modbus_new_tcp("127.0.0.1", atoi(argv[1]));
    modbus_mapping_t *map = modbus_mapping_new(2000, 2000, 400, 200);
    if (context == NULL || map == NULL) {
        fprintf(stderr, "%s\n", modbus_strerror(errno));
        return 1;
    }

    uint16_t *holding = map->tab_registers;
    float single = 123.456f;
    double real = -98765.4321;
    uint32_t single_bits;
    uint64_t bits;
    memcpy(&single_bits, &single, sizeof single_bits);
    memcpy(&bits, &real, sizeof bits);
    holding[100] = 54321;
    holding[101] = (uint16_t)-12345;
    typed(holding + 110, 3735928559u, 2);
    typed(holding + 120, (uint32_t)-123456789, 2);
    typed(holding + 130, single_bits, 2);
    typed(holding + 140, bits, 4);
    typed(holding + 160, 1234567890123456ull, 4);
    typed(holding + 180, (uint64_t)-1234567890123456ll, 4);
    text(holding + 200, "BAR-4711 / S235JR", 0);
    text(holding + 220, "BAR-4711 / S235JR", 1);
    for (int i = 0; i < 2000; i++) {
        map->tab_bits[i] = i % 3 == 0;
        map->tab_input_bits[i] = i * i % 7 < 3;
    }
    for (int i = 0; i < 200; i++)
        map->tab_input_registers[i] = (uint16_t)(i * 7 + 3);

    uint8_t request[MODBUS_TCP_MAX_ADU_LENGTH];
    if (serial) {
        if (modbus_set_slave(context, 1) < 0 || modbus_connect(context) < 0) {
            fprintf(stderr, "%s\n", modbus_strerror(errno));
            return 1;
        }
        printf("serving\n");
        fflush(stdout);
        for (;;) {
            int length = modbus_receive(context, request);
            if (length > 0)
                modbus_reply(context, request, length, map);
            else if (length < 0 && errno == EIO)
                return 0;
        }
    }

    int listening = modbus_tcp_listen(context, 1);
    if (listening < 0) {
        fprintf(stderr, "%s\n", modbus_strerror(errno));
        return 1;
    }

    while (modbus_tcp_accept(context, &listening) >= 0) {
        int length;
        while ((length = modbus_receive(context, request)) >= 0)
            if (length > 0)
                modbus_reply(context, request, length, map);
        modbus_close(context);
    }
    return 0;
}
