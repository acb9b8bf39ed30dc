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
        var lacks = saws.Select(saw => (saw.Name, What: Lacks(saw, variable))).Where(saw => saw.What is not null).ToList();
        if (saws.Count > 0 && lacks.Count == saws.Count)
            findings.Error(draft.Variable.Path, $"can never raise an alarm: no saw that the rule holds for {lacks[0].What}; write it at the saw, or leave the rule out");
        else
            foreach (var (stated, what) in (draft.Saws.Value ?? []).Join(lacks, stated => stated.Value, saw => saw.Name, (stated, saw) => (stated, saw.What)))
                findings.Warning(stated.Path, $"can never raise this alarm: {stated.Value} is no saw that {what}; write it at the saw, or leave the name out");
    }

    /// <summary>What a saw does not do, behind "no saw that", or null.</summary>
    private static string? Lacks(SawOptions saw, AlarmVariable variable)
    {
        var needed = variable.Topic == AlarmTopic.Signal && SignalInfo.TryFind(variable.Name, out var info) ? [info.Signal] : Signals.GetValueOrDefault((variable.Topic, variable.Name), []);
        if (needed.FirstOrDefault(signal => !Maps(saw, signal), (Signal)byte.MaxValue) is var missing and not (Signal)byte.MaxValue)
            return $"maps {SignalInfo.Of(missing).Name}";
        return variable is { Topic: AlarmTopic.Finding, Name: "overload" } && saw.Machine.LoadLimitKw is null ? "states machine.maximumLoad or machine.ratedPower" : null;
    }

    private static bool Maps(SawOptions saw, Signal signal) => saw.Source switch
    {
        ModbusSourceOptions modbus => modbus.Signals.Any(mapping => mapping.Signal == signal),
        MqttSourceOptions mqtt => mqtt.Signals.Any(mapping => mapping.Signal == signal),
        _ => true,
    };
}
