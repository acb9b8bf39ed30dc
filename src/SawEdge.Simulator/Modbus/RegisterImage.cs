using System.Buffers.Binary;
using SawEdge.Core.Signals;

namespace SawEdge.Simulator.Modbus;

/// <summary>The registers and bits of one unit at one moment. Values that do not fit their type stop at its limits, as in a real controller's scaling block.</summary>
public sealed class RegisterImage
{
    private readonly RegisterLayout _layout;
    private readonly byte[][] _tables;

    /// <summary>An image in which everything is 0.</summary>
    public RegisterImage(RegisterLayout layout)
    {
        _layout = layout;
        _tables = [.. Enum.GetValues<RegisterTable>().Select(table => new byte[layout.SizeOf(table) * (IsBits(table) ? 1 : 2)])];
    }

    /// <summary>Registers or bits of a table.</summary>
    public int SizeOf(RegisterTable table) => _tables[(int)table].Length / (IsBits(table) ? 1 : 2);

    /// <summary>Lays a frame's values down; a signal without a usable value leaves zeros.</summary>
    public void Load(in SignalFrame frame)
    {
        foreach (var field in _layout.Fields)
        {
            var table = _tables[(int)field.Table];
            if (field.IsBit)
            {
                table[field.Address] = frame.Flag(field.Signal) == true ? (byte)1 : (byte)0;
                continue;
            }

            var room = table.AsSpan(field.Address * 2, field.Width * 2);
            if (field.Bit is { } bit)
                SetBit(room, bit, frame.Flag(field.Signal) == true);
            else if (field.Type == RegisterType.Ascii)
                SetText(room, frame.Text(field.Signal));
            else
                SetNumber(room, field, RawOf(field, frame));
        }
    }

    /// <summary>Packs bits as the protocol sends them: the first one lowest in the first byte.</summary>
    /// <param name="table">One of the two bit tables.</param>
    /// <param name="address">First bit.</param>
    /// <param name="count">Number of bits.</param>
    /// <param name="target">Room for one byte per eight bits begun; overwritten.</param>
    public void CopyBits(RegisterTable table, int address, int count, Span<byte> target)
    {
        var bits = _tables[(int)table].AsSpan(address, count);
        target[..((count + 7) / 8)].Clear();
        for (var i = 0; i < bits.Length; i++)
            target[i >> 3] |= (byte)(bits[i] << (i & 7));
    }

    /// <summary>Copies registers, most significant byte first.</summary>
    public void CopyRegisters(RegisterTable table, int address, int count, Span<byte> target) =>
        _tables[(int)table].AsSpan(address * 2, count * 2).CopyTo(target);

    private static bool IsBits(RegisterTable table) => table is RegisterTable.Coil or RegisterTable.DiscreteInput;

    private static double RawOf(RegisterField field, in SignalFrame frame)
    {
        if (field.Texts is { } texts)
        {
            var text = frame.Text(field.Signal);
            return texts.FirstOrDefault(entry => entry.Value == text).Key;
        }

        var value = frame.Number(field.Signal);
        return double.IsNaN(value) ? 0 : (value - field.Offset) / field.Scale;
    }

    private static void SetBit(Span<byte> room, int bit, bool on)
    {
        var word = BinaryPrimitives.ReadUInt16BigEndian(room);
        BinaryPrimitives.WriteUInt16BigEndian(room, (ushort)(on ? word | (1 << bit) : word & ~(1 << bit)));
    }

    private static void SetText(Span<byte> room, string? text)
    {
        room.Clear();
        for (var i = 0; i < Math.Min(room.Length, text?.Length ?? 0); i++)
            room[i] = text![i] < 128 ? (byte)text[i] : (byte)'?';
    }

    private static void SetNumber(Span<byte> room, RegisterField field, double raw)
    {
        var whole = Math.Round(raw, MidpointRounding.AwayFromZero);
        switch (field.Type)
        {
            case RegisterType.UInt16:
                BinaryPrimitives.WriteUInt16BigEndian(room, field.Signal == Signal.PartCount ? (ushort)(long)whole : (ushort)Math.Clamp(whole, 0, ushort.MaxValue));
                break;
            case RegisterType.Int16:
                BinaryPrimitives.WriteInt16BigEndian(room, (short)Math.Clamp(whole, short.MinValue, short.MaxValue));
                break;
            case RegisterType.UInt32:
                BinaryPrimitives.WriteUInt32BigEndian(room, (uint)Math.Clamp(whole, 0, uint.MaxValue));
                break;
            case RegisterType.Int32:
                BinaryPrimitives.WriteInt32BigEndian(room, (int)Math.Clamp(whole, int.MinValue, int.MaxValue));
                break;
            case RegisterType.Float32:
                BinaryPrimitives.WriteSingleBigEndian(room, (float)raw);
                break;
            case RegisterType.Float64:
                BinaryPrimitives.WriteDoubleBigEndian(room, raw);
                break;
            default:
                throw new InvalidOperationException($"{field.Type} is no number.");
        }

        Reorder(room, field.Order);
    }

    private static void Reorder(Span<byte> room, WordOrder order)
    {
        if (order is WordOrder.Cdab or WordOrder.Dcba)
        {
            // The words change places, the bytes in each stay: reverse all, then each word back.
            room.Reverse();
            SwapBytes(room);
        }

        if (order is WordOrder.Badc or WordOrder.Dcba)
            SwapBytes(room);
    }

    private static void SwapBytes(Span<byte> room)
    {
        for (var i = 0; i < room.Length; i += 2)
            (room[i], room[i + 1]) = (room[i + 1], room[i]);
    }
}
