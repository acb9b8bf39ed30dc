using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>What a saw must tell so that a rule about it can ever be raised.</summary>
internal static class RuleNeeds
{
    private static readonly Dictionary<(AlarmTopic, string), Signal[]> Signals = new()
    {
        [(AlarmTopic.Finding, "overload")] = [Signal.MotorLoad],
        [(AlarmTopic.Finding, "stall")] = [Signal.MotorLoad, Signal.HeadPosition],
        [(AlarmTopic.Finding, "blade_gone")] = [Signal.MotorLoad, Signal.HeadPosition],
        [(AlarmTopic.Finding, "no_contact")] = [Signal.MotorLoad, Signal.HeadPosition],
        [(AlarmTopic.Finding, "load_after_breakthrough")] = [Signal.MotorLoad, Signal.HeadPosition],
        [(AlarmTopic.Cycle, "mean_load_kw")] = [Signal.MotorLoad],
        [(AlarmTopic.Cycle, "peak_load_kw")] = [Signal.MotorLoad],
        [(AlarmTopic.Cycle, "idle_load_kw")] = [Signal.MotorLoad],
        [(AlarmTopic.Cycle, "cutting_energy_kj")] = [Signal.MotorLoad],
        [(AlarmTopic.Cycle, "specific_energy_j_mm3")] = [Signal.MotorLoad],
        [(AlarmTopic.Cycle, "score_loop")] = [Signal.MotorLoad],
        [(AlarmTopic.Cycle, "mean_blade_speed_m_min")] = [Signal.BladeSpeed],
        [(AlarmTopic.Cycle, "part_count")] = [Signal.PartCount],
        [(AlarmTopic.Cycle, "mode")] = [Signal.Mode],
        [(AlarmTopic.Cycle, "job")] = [Signal.Job],
        [(AlarmTopic.Cycle, "material")] = [Signal.Job],
        [(AlarmTopic.Cycle, "section")] = [Signal.Job],
        [(AlarmTopic.Blade, "due")] = [Signal.MotorLoad],
        [(AlarmTopic.Blade, "rise")] = [Signal.MotorLoad],
        [(AlarmTopic.Blade, "area_left")] = [Signal.MotorLoad],
        [(AlarmTopic.Blade, "cuts_left")] = [Signal.MotorLoad],
    };

    /// <summary>Says which saws of a rule can never raise it.</summary>
    /// <param name="draft">The rule.</param>
    /// <param name="variable">What it looks at.</param>
    /// <param name="saws">The saws that it holds for.</param>
    /// <param name="findings">Where mistakes go.</param>
    public static void Check(RuleDraft draft, AlarmVariable variable, IReadOnlyList<SawOptions> saws, Findings findings)
    {
        var lacks = saws.Select(saw => (saw.Name, What: Lacks(saw, variable, draft.Rule?.Test))).Where(saw => saw.What is not null).ToList();
        if (saws.Count > 0 && lacks.Count == saws.Count)
            findings.Error(draft.Variable.Path, $"can never raise an alarm: no saw that the rule holds for {lacks[0].What}, or leave the rule out");
        else
            foreach (var (stated, what) in (draft.Saws.Value ?? []).Join(lacks, stated => stated.Value, saw => saw.Name, (stated, saw) => (stated, saw.What)))
                findings.Warning(stated.Path, $"can never raise this alarm: {stated.Value} is no saw that {what}, or leave the name out");
    }

    /// <summary>What a saw does not do, behind "no saw that", and what would be right; null where it lacks nothing.</summary>
    private static string? Lacks(SawOptions saw, AlarmVariable variable, AlarmTest? test)
    {
        var needed = variable.Topic == AlarmTopic.Signal && SignalInfo.TryFind(variable.Name, out var info) ? [info.Signal] : Signals.GetValueOrDefault((variable.Topic, variable.Name), []);
        foreach (var signal in needed)
        {
            if (Range(saw, signal) is not { } range)
                return $"maps {SignalInfo.Of(signal).Name}; map it at the saw";
            if (variable.Topic == AlarmTopic.Signal && Beyond(range, variable, test) is { } beyond)
                return beyond;
        }

        return variable is { Topic: AlarmTopic.Finding, Name: "overload" } && saw.Machine.LoadLimitKw is null ? "states machine.maximumLoad or machine.ratedPower; write it at the saw" : null;
    }

    // What is out of the range that a mapping believes is marked so, and no rule is held against it.
    private static string? Beyond((double Least, double Greatest) range, AlarmVariable variable, AlarmTest? test)
    {
        string Shown(double value) => DisplayText.Text(DisplayUnits.Metric, value, variable.Unit);
        return test switch
        {
            { Comparison: AlarmComparison.Above } when test.Limit >= range.Greatest => $"believes {variable.Name} above {Shown(test.Limit)}; its \"maximum\" is {Shown(range.Greatest)}, so write a lower limit, a higher maximum",
            { Comparison: AlarmComparison.Below } when test.Limit <= range.Least => $"believes {variable.Name} below {Shown(test.Limit)}; its \"minimum\" is {Shown(range.Least)}, so write a higher limit, a lower minimum",
            _ => null,
        };
    }

    private static (double Least, double Greatest)? Range(SawOptions saw, Signal signal) => saw.Source switch
    {
        ModbusSourceOptions modbus => modbus.Signals.Where(mapping => mapping.Signal == signal).Select(mapping => Range(mapping.Minimum, mapping.Maximum)).FirstOrDefault(),
        MqttSourceOptions mqtt => mqtt.Signals.Where(mapping => mapping.Signal == signal).Select(mapping => Range(mapping.Minimum, mapping.Maximum)).FirstOrDefault(),
        SparkplugSourceOptions sparkplug => sparkplug.Signals.Where(mapping => mapping.Signal == signal).Select(mapping => Range(mapping.Minimum, mapping.Maximum)).FirstOrDefault(),
        RecordingSourceOptions recording => recording.Signals.Where(mapping => mapping.Signal == signal).Select(mapping => Range(mapping.Minimum, mapping.Maximum)).FirstOrDefault(),
        _ => Range(null, null),
    };

    private static (double Least, double Greatest)? Range(double? minimum, double? maximum) => (minimum ?? double.NegativeInfinity, maximum ?? double.PositiveInfinity);
}
