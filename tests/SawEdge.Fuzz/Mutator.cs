using SawEdge.Fuzz.Targets;

namespace SawEdge.Fuzz;

/// <summary>Makes an input of others: a few random changes, one on the other. The same seed makes the same inputs of the same others.</summary>
internal sealed class Mutator(IFuzzTarget target, int seed)
{
    private const int MostChanges = 16;
    private static readonly byte[] Telling = [0, 1, 0x7F, 0x80, 0xFF, (byte)'0', (byte)'9', (byte)'-', (byte)'"', (byte)','];

    private readonly Random _random = new(seed);
    private readonly byte[] _buffer = new byte[target.MaximumLength];

    /// <summary>Which of so many is taken next: the latest rather often, because they lead on.</summary>
    public int Choose(int count) => _random.Next(4) == 0 ? count - 1 - _random.Next(Math.Min(count, 8)) : _random.Next(count);

    /// <summary>Makes an input; valid until the next.</summary>
    public ReadOnlySpan<byte> Next(byte[] from, byte[] other)
    {
        var length = Math.Min(from.Length, _buffer.Length);
        from.AsSpan(0, length).CopyTo(_buffer);
        for (var changes = 1 << _random.Next(5); changes > 0; changes--)
            length = Change(length, other);
        var input = _buffer.AsSpan(0, length);
        if (_random.Next(2) == 0)
            target.FixUp(input);
        return input;
    }

    private int Change(int length, byte[] other)
    {
        switch (_random.Next(length == 0 ? 3 : 11))
        {
            case 0:
                return Insert(length, Random());
            case 1:
                return target.Tokens.Count == 0 ? length : Insert(length, target.Tokens[_random.Next(target.Tokens.Count)]);
            case 2:
                return Insert(length, Part(other));
            case 3:
                _buffer[_random.Next(length)] ^= (byte)(1 << _random.Next(8));
                return length;
            case 4:
                _buffer[_random.Next(length)] = (byte)_random.Next(256);
                return length;
            case 5:
                _buffer[_random.Next(length)] = Telling[_random.Next(Telling.Length)];
                return length;
            case 6:
                _buffer[_random.Next(length)] += (byte)_random.Next(-35, 36);
                return length;
            case 7:
                return Delete(length);
            case 8:
                return Over(length, target.Tokens.Count == 0 ? Random() : target.Tokens[_random.Next(target.Tokens.Count)]);
            case 9:
                return Over(length, Part(other));
            default:
                return Insert(length, Part(_buffer.AsSpan(0, length)));
        }
    }

    private int Insert(int length, ReadOnlySpan<byte> what)
    {
        what = what[..Math.Min(what.Length, _buffer.Length - length)];
        var at = _random.Next(length + 1);
        _buffer.AsSpan(at, length - at).CopyTo(_buffer.AsSpan(at + what.Length));
        what.CopyTo(_buffer.AsSpan(at));
        return length + what.Length;
    }

    private int Over(int length, ReadOnlySpan<byte> what)
    {
        var at = _random.Next(length);
        what[..Math.Min(what.Length, length - at)].CopyTo(_buffer.AsSpan(at));
        return length;
    }

    private int Delete(int length)
    {
        var at = _random.Next(length);
        var count = 1 + _random.Next(Math.Min(length - at, 1 << _random.Next(8)));
        _buffer.AsSpan(at + count, length - at - count).CopyTo(_buffer.AsSpan(at));
        return length - count;
    }

    private byte[] Random()
    {
        var bytes = new byte[1 + _random.Next(MostChanges)];
        _random.NextBytes(bytes);
        return bytes;
    }

    // A copy, because it may be put back into what it was taken from.
    private byte[] Part(ReadOnlySpan<byte> of)
    {
        if (of.IsEmpty)
            return [];
        var at = _random.Next(of.Length);
        return of.Slice(at, 1 + _random.Next(Math.Min(of.Length - at, 1 << _random.Next(8)))).ToArray();
    }
}
