using System.Globalization;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>What RTU asks of the saws behind a line: units that can answer, and no more requests than the line has time for.</summary>
internal static class LineChecks
{
    // Bytes beside the values. Request: unit, function, address, quantity, CRC; answer: unit, function, byte count, CRC
    // (Modbus over Serial Line V1.02, clause 2.5.1; Application Protocol V1.1b3, clauses 6.1 to 6.4).
    private const int RequestBytes = 8;
    private const int AnswerBytes = 5;

    // Between frames the line is still for 3.5 characters, above 19200 baud for 1.75 ms (Serial Line V1.02, clause 2.5.1.1).
    private const double SilentCharacters = 3.5;
    private const int FastBaud = 19200;
    private const double FastSilenceS = 0.00175;

    // Units take time of their own before they answer, often more than the line does; common practice, no source.
    private const double MostBusy = 0.8;

    /// <summary>Runs all of them.</summary>
    public static void Run(Findings findings, GatewayOptions options)
    {
        var lines = new Dictionary<string, int>(StringComparer.OrdinalIgnoreCase);
        for (var i = 0; i < options.ModbusDevices.Count; i++)
        {
            var device = options.ModbusDevices[i];
            if (device is not { Name: { } name } || device is ModbusTcpDeviceOptions { IsRtu: false })
                continue;
            var saws = options.Saws.Index().Where(entry => entry.Item?.Source is ModbusSourceOptions source && source.Device == name).ToList();
            foreach (var (index, saw) in saws)
                CheckUnit(findings, $"saws[{index}].unit", ((ModbusSourceOptions)saw.Source).Unit, device);
            if (device is not ModbusSerialDeviceOptions { Line: { } line } serial)
                continue;
            if (!lines.TryAdd(line, i))
                findings.Error($"devices[{i}].line", $"{Words.Quoted(line)} is the line of devices[{lines[line]}] already, and only one can hold it open; give their saws the same device, each with its own unit");
            if (serial.Baud > 0 && saws.Count > 0)
                CheckTime(findings, $"devices[{i}].baud", serial, [.. saws.Select(entry => entry.Item)]);
        }
    }

    // Modbus over Serial Line V1.02, clause 2.2: 0 is the broadcast, which nobody answers; 1 to 247 are units; the rest is reserved.
    private static void CheckUnit(Findings findings, string path, byte unit, ModbusDeviceOptions device)
    {
        if (unit == 0)
            findings.Error(path, "0 speaks to every unit of the line at once, and none answers; write the unit's own number, 1 to 247");
        else if (unit > 247 && device is ModbusSerialDeviceOptions)
            findings.Error(path, string.Create(CultureInfo.InvariantCulture, $"{unit} is no unit of a serial line; write 1 to 247"));
        else if (unit > 247)
            findings.Warning(path, string.Create(CultureInfo.InvariantCulture, $"{unit} is no unit of a serial line (1 to 247); is the number right?"));
    }

    private static void CheckTime(Findings findings, string path, ModbusSerialDeviceOptions device, IReadOnlyList<SawOptions> saws)
    {
        var byteS = device.BitsPerByte / (double)device.Baud;
        var silenceS = device.Baud > FastBaud ? FastSilenceS : SilentCharacters * byteS;
        var (requests, values, busy) = (0, 0, 0.0);
        foreach (var saw in saws)
        {
            var source = (ModbusSourceOptions)saw.Source;
            foreach (var span in RegisterSpans.Of(source.Signals, mapping => mapping, device.MaximumGap))
            {
                var isBits = span.Items[0].Table is RegisterTable.Coil or RegisterTable.DiscreteInput;
                var valueBytes = isBits ? (span.Count + 7) / 8 : 2 * span.Count;
                requests++;
                values += valueBytes;
                var seconds = ((RequestBytes + AnswerBytes + valueBytes) * byteS) + silenceS + Math.Max(silenceS, device.Pause.TotalSeconds);
                busy += seconds / (span.Every ?? saw.Interval).TotalSeconds;
            }
        }

        if (busy <= MostBusy || !double.IsFinite(busy))
            return;
        var shortest = saws.Min(saw => saw.Interval).TotalMilliseconds;
        var enough = Math.Ceiling(shortest * busy / MostBusy / 10) * 10;
        findings.Warning(path, string.Create(
            CultureInfo.InvariantCulture,
            $"reading {Words.And([.. saws.Select(saw => saw.Name)])} takes the line {shortest * busy:0} ms of every {shortest:0} ms at {device.Baud} baud ({requests} requests for {values} bytes of values, the units' own time not counted); make the interval \"{enough:0} ms\" or longer, raise baud, or read slow signals less often with \"every\""));
    }
}
