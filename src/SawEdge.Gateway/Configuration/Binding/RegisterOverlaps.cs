using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>
/// Looks for values of one Modbus unit that share registers: part of another value is surely a slip in the register list; all of
/// another value, read as another type, is doubtful. Bits of a word and the word itself go together.
/// </summary>
internal static class RegisterOverlaps
{
    private sealed record Place(string Path, RegisterMapping Mapping)
    {
        public int First => Mapping.Address;

        public int Last => Mapping.Address + Mapping.Count - 1;

        /// <summary>Whether only single bits are taken from the registers, or whole numbers that may hold bits.</summary>
        public bool MayHoldBits => Mapping.Type is not (RegisterType.Ascii or RegisterType.Float32 or RegisterType.Float64);

        public bool IsBitOfRegister => Mapping.Bit is not null;

        public override string ToString() => new RegisterAddress(Mapping.Table, Mapping.Address).ToString();
    }

    /// <summary>Checks every unit of every device.</summary>
    public static void Check(Findings findings, GatewayOptions options)
    {
        var places = options.Saws
            .Select((saw, index) => (Source: saw?.Source as ModbusSourceOptions, Index: index))
            .Where(entry => entry.Source?.Device is not null)
            .SelectMany(entry => entry.Source!.Signals.Select(mapping => (
                Group: (entry.Source.Device, entry.Source.Unit, mapping.Table),
                Place: new Place($"saws[{entry.Index}].signals.{SignalInfo.Of(mapping.Signal).Name}.address", mapping))));
        foreach (var group in places.GroupBy(entry => entry.Group, entry => entry.Place))
        {
            var ordered = group.ToList();
            for (var i = 1; i < ordered.Count; i++)
            {
                // One finding a place: the first neighbour that it meets.
                for (var j = 0; j < i && !Compare(findings, ordered[j], ordered[i]); j++)
                {
                }
            }
        }
    }

    private static bool Compare(Findings findings, Place earlier, Place later)
    {
        if (later.First > earlier.Last || earlier.First > later.Last)
            return false;
        var name = $"{Name(earlier)} ({earlier})";
        if (later.Mapping.Table is RegisterTable.Coil or RegisterTable.DiscreteInput || (later.IsBitOfRegister && earlier.IsBitOfRegister))
        {
            // Two flags from one bit are possible; the same signal of two saws from one bit is a slip.
            var sameBit = later.First == earlier.First && later.Mapping.Bit == earlier.Mapping.Bit && later.Mapping.Signal == earlier.Mapping.Signal;
            if (sameBit)
                findings.Warning(later.Path, $"reads the same bit as {name}; is the address or the unit right?");
            return sameBit;
        }

        if (later.IsBitOfRegister || earlier.IsBitOfRegister)
        {
            var whole = later.IsBitOfRegister ? earlier : later;
            if (!whole.MayHoldBits)
                findings.Error(later.Path, $"shares a register with {name}, and a {TypeWord(whole)} holds no flags; is the address right?");
            return !whole.MayHoldBits;
        }

        if (later.First != earlier.First || later.Last != earlier.Last)
        {
            findings.Error(later.Path, $"{Range(later)} shares registers with {Name(earlier)} ({Range(earlier)}); one of the two addresses or types is wrong, for values do not overlap");
            return true;
        }

        var same = later.Mapping.Count == 1 ? "register" : "registers";
        var differs = later.Mapping.Type != earlier.Mapping.Type || later.Mapping.Order != earlier.Mapping.Order ? ", but in another type or order" : "";
        var doubt = later.Mapping.Signal == earlier.Mapping.Signal ? "is the address or the unit right?" : "is the address right?";
        findings.Warning(later.Path, $"reads the same {same} as {name}{differs}; {doubt}");
        return true;
    }

    private static string TypeWord(Place place) => place.Mapping.Type == RegisterType.Ascii ? "text" : "floating-point number";

    private static string Name(Place place) => place.Path[..^".address".Length];

    private static string Range(Place place) => place.Mapping.Count == 1 ? place.ToString() : $"{place} to {place.Last}";
}
