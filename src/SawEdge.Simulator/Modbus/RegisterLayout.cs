using SawEdge.Core.Signals;

namespace SawEdge.Simulator.Modbus;

/// <summary>
/// Which signal of a saw lies where in its unit. Two layouts come along that differ in every way in which real
/// controllers differ: table, scaling, word order, bits in a register or in a table of their own.
/// </summary>
public sealed class RegisterLayout
{
    private static readonly IReadOnlyDictionary<long, string> Modes =
        new Dictionary<long, string> { [0] = "manual", [1] = "semi_automatic", [2] = "automatic" };

    /// <summary>A layout of its own.</summary>
    /// <param name="fields">The fields; a register or bit belongs to one field only, except that flags may share a register.</param>
    /// <exception cref="ArgumentException">Fields overlap, leave the address space, or do not fit their table; the message says which.</exception>
    public RegisterLayout(IReadOnlyList<RegisterField> fields)
    {
        Fields = [.. fields];
        foreach (var field in Fields)
            Check(field);
        foreach (var table in Enum.GetValues<RegisterTable>())
            CheckOverlap([.. Fields.Where(field => field.Table == table)]);
    }

    /// <summary>
    /// The layout of the demo's first saw. Holding registers (function 3), most significant word first:
    /// <code>
    ///  0      head position     int16    0.1 mm (signed: the blade goes below the table)
    ///  1      blade speed       uint16   0.1 m/min
    ///  2-3    motor load        float32  kW
    ///  4-5    part count        uint32
    ///  6      fault code        uint16   0: none
    ///  7      mode              uint16   0 manual, 1 semi-automatic, 2 automatic
    ///  8-15   job               ascii    16 characters, padded with zeros
    /// 16-23   bar               ascii
    /// 24-31   blade             ascii
    /// 32-33   scrap count       uint32
    /// </code>
    /// Discrete inputs (function 2): 0 cycle active, 1 cutting, 2 blade running. Coils (function 1): the same three.
    /// </summary>
    public static RegisterLayout Plain { get; } = new(
    [
        new(Signal.HeadPosition, RegisterTable.Holding, 0, RegisterType.Int16) { Scale = 0.1 },
        new(Signal.BladeSpeed, RegisterTable.Holding, 1, RegisterType.UInt16) { Scale = 0.1 },
        new(Signal.MotorLoad, RegisterTable.Holding, 2, RegisterType.Float32),
        new(Signal.PartCount, RegisterTable.Holding, 4, RegisterType.UInt32),
        new(Signal.FaultCode, RegisterTable.Holding, 6, RegisterType.UInt16),
        new(Signal.Mode, RegisterTable.Holding, 7, RegisterType.UInt16) { Texts = Modes },
        new(Signal.Job, RegisterTable.Holding, 8, RegisterType.Ascii) { Length = 8 },
        new(Signal.BarId, RegisterTable.Holding, 16, RegisterType.Ascii) { Length = 8 },
        new(Signal.BladeId, RegisterTable.Holding, 24, RegisterType.Ascii) { Length = 8 },
        new(Signal.ScrapCount, RegisterTable.Holding, 32, RegisterType.UInt32),
        new(Signal.CycleActive, RegisterTable.DiscreteInput, 0, RegisterType.Bool),
        new(Signal.Cutting, RegisterTable.DiscreteInput, 1, RegisterType.Bool),
        new(Signal.BladeRunning, RegisterTable.DiscreteInput, 2, RegisterType.Bool),
        new(Signal.CycleActive, RegisterTable.Coil, 0, RegisterType.Bool),
        new(Signal.Cutting, RegisterTable.Coil, 1, RegisterType.Bool),
        new(Signal.BladeRunning, RegisterTable.Coil, 2, RegisterType.Bool),
    ]);

    /// <summary>
    /// The layout of the demo's second saw. Input registers (function 4) from 100, least significant word first:
    /// <code>
    /// 100      status            bit 0 cycle active, bit 1 cutting, bit 2 blade running
    /// 101-102  head position     int32    0.001 mm
    /// 103      motor load        uint16   0.1 % of the rated power
    /// 104-105  blade speed       float32  m/min
    /// 106      part count        uint16   rolls over at 65536
    /// 107      fault code        int16
    /// 110-117  job               ascii
    /// 118-125  bar               ascii
    /// 126-133  blade             ascii
    /// </code>
    /// </summary>
    /// <param name="ratedPowerKw">Rated power of the blade motor, kW: what 100 % stands for.</param>
    public static RegisterLayout Packed(double ratedPowerKw) => new(
    [
        new(Signal.CycleActive, RegisterTable.Input, 100, RegisterType.Bool) { Bit = 0 },
        new(Signal.Cutting, RegisterTable.Input, 100, RegisterType.Bool) { Bit = 1 },
        new(Signal.BladeRunning, RegisterTable.Input, 100, RegisterType.Bool) { Bit = 2 },
        new(Signal.HeadPosition, RegisterTable.Input, 101, RegisterType.Int32) { Order = WordOrder.Cdab, Scale = 0.001 },
        new(Signal.MotorLoad, RegisterTable.Input, 103, RegisterType.UInt16) { Scale = ratedPowerKw / 1000 },
        new(Signal.BladeSpeed, RegisterTable.Input, 104, RegisterType.Float32) { Order = WordOrder.Cdab },
        new(Signal.PartCount, RegisterTable.Input, 106, RegisterType.UInt16),
        new(Signal.FaultCode, RegisterTable.Input, 107, RegisterType.Int16),
        new(Signal.Job, RegisterTable.Input, 110, RegisterType.Ascii) { Length = 8 },
        new(Signal.BarId, RegisterTable.Input, 118, RegisterType.Ascii) { Length = 8 },
        new(Signal.BladeId, RegisterTable.Input, 126, RegisterType.Ascii) { Length = 8 },
    ]);

    /// <summary>The fields, in the order given.</summary>
    public IReadOnlyList<RegisterField> Fields { get; }

    /// <summary>One field for each signal, the first where it lies in several places: what a poller would map.</summary>
    public IEnumerable<RegisterField> Mapping => Fields.DistinctBy(place => place.Signal);

    /// <summary>Registers or bits that a table of the unit holds: addresses 0 up to, not including, this number.</summary>
    public int SizeOf(RegisterTable table) =>
        Fields.Where(field => field.Table == table).Select(field => field.Address + field.Width).DefaultIfEmpty(0).Max();

    private static void Check(RegisterField field)
    {
        var what = $"{SignalInfo.Of(field.Signal).Name} at {field.Table} {field.Address}";
        if (field.Width < 1 || field.Address + field.Width > 65536)
            throw new ArgumentException($"{what} takes {field.Width} registers; it must take at least one and end at 65535.");
        if (field.IsBit != (field.Type == RegisterType.Bool && field.Bit is null))
            throw new ArgumentException($"{what}: a coil or discrete input holds one Bool without a bit number, and a Bool in a register needs one.");
        if (field.Bit is < 0 or > 15)
            throw new ArgumentException($"{what}: bit {field.Bit} is none of 0 to 15.");
        if (field.Scale == 0)
            throw new ArgumentException($"{what}: a scale of 0 cannot be read back.");
        if (SignalInfo.IsNumeric(field.Signal) != (field.Type != RegisterType.Ascii && field.Texts is null))
            throw new ArgumentException($"{what}: a text needs the type Ascii or codes, and a number neither.");
    }

    private static void CheckOverlap(List<RegisterField> fields)
    {
        for (var i = 0; i < fields.Count; i++)
        {
            for (var j = i + 1; j < fields.Count; j++)
            {
                var (a, b) = (fields[i], fields[j]);
                var apart = a.Address + a.Width <= b.Address || b.Address + b.Width <= a.Address;
                var bits = a.Bit is not null && b.Bit is not null && a.Bit != b.Bit;
                if (!apart && !bits)
                    throw new ArgumentException($"{SignalInfo.Of(a.Signal).Name} and {SignalInfo.Of(b.Signal).Name} overlap at {a.Table} {Math.Max(a.Address, b.Address)}.");
            }
        }
    }
}
