using System.Buffers.Binary;

namespace SawEdge.Modbus.Tests;

/// <summary>What a correct RTU device says; scripts for <see cref="ScriptedDevice"/> are made of it.</summary>
internal static class RtuDevice
{
    /// <summary>A device that answers everything correctly.</summary>
    public static async Task Correct(ScriptedDevice.Talk talk)
    {
        while (await NextAsync(talk) is { } request)
            await talk.SendAsync(CorrectAnswer(request));
    }

    /// <summary>The next request, or null when the client has closed.</summary>
    public static Task<byte[]?> NextAsync(ScriptedDevice.Talk talk) => talk.NextAsync(8);

    /// <summary>The correct device's answer to a request.</summary>
    public static byte[] CorrectAnswer(byte[] request)
    {
        // The protocol data unit is the same on TCP.
        var tcp = ScriptedDevice.CorrectAnswer([0, 0, 0, 0, 0, 6, .. request[..6]]);
        return Frame(tcp[6], tcp[7..]);
    }

    /// <summary>An exception answer to a request.</summary>
    public static byte[] ExceptionAnswer(byte[] request, byte code) => Frame(request[0], [(byte)(request[1] | 0x80), code]);

    /// <summary>A frame around a protocol data unit.</summary>
    public static byte[] Frame(byte unit, byte[] pdu)
    {
        byte[] frame = [unit, .. pdu, 0, 0];
        BinaryPrimitives.WriteUInt16LittleEndian(frame.AsSpan(frame.Length - 2), Crc(frame[..^2]));
        return frame;
    }

    /// <summary>The CRC bit by bit, as the standard's flow chart has it (Modbus over Serial Line V1.02, clause 6.2.2).</summary>
    public static ushort Crc(byte[] bytes)
    {
        var crc = 0xFFFF;
        foreach (var b in bytes)
        {
            crc ^= b;
            for (var bit = 0; bit < 8; bit++)
                crc = (crc & 1) == 1 ? (crc >> 1) ^ 0xA001 : crc >> 1;
        }

        return (ushort)crc;
    }
}
