using SawEdge.Core.Alarms;
using SawEdge.Core.Load;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>In which units the limits of a variable are written, and which values it can take.</summary>
internal static class VariableUnits
{
    private static readonly NumberType Plain = new(whole: false, double.NegativeInfinity, double.PositiveInfinity, "3");

    // A quotient that may pass 1, a loss that may turn out a gain, a budget that may be passed: everything else that is a share lies between 0 and 1.
    private static readonly string[] OpenShares = ["effectiveness", "oee", "rise", "history_budget"];

    // Measured from a zero that lies within their range.
    private static readonly string[] Signed = ["head_position", "blade_deviation", "rise", "fault_code", "motor_load", "mean_load_kw", "idle_load_kw", "specific_energy_j_mm3", "cutting_energy_kj"];

    /// <summary>How a limit is read.</summary>
    public static ConfigType<double> TypeOf(AlarmVariable variable) =>
        KindOf(variable.Unit) is { } kind ? new LimitType(kind.Kind, kind.Factor) : Plain;

    /// <summary>A limit as a person would write it, for messages.</summary>
    public static string Example(AlarmVariable variable) => KindOf(variable.Unit) is { } kind ? $"\"{kind.Kind.Examples[0]}\"" : "3";

    /// <summary>The least and the greatest value there can be.</summary>
    public static (double Least, double Greatest) Range(AlarmVariable variable)
    {
        var least = Signed.Contains(variable.Name) ? variable.Name == "rise" ? -1 : double.NegativeInfinity : 0;
        var isScore = variable.Name == "load_score" || variable.Name.StartsWith("score_", StringComparison.Ordinal);
        var greatest = variable.Unit == "share" && !OpenShares.Contains(variable.Name) ? 1
            : isScore ? LoadAssessment.Cap
            : double.PositiveInfinity;
        return (least, greatest);
    }

    private static (QuantityKind Kind, double Factor)? KindOf(string unit) => unit switch
    {
        "" => null,
        "mm" => (QuantityKind.Length, 1),
        "kW" => (QuantityKind.Power, 1),
        "m/min" => (QuantityKind.Speed, 1),
        "mm/min" => (QuantityKind.Rate, 1),
        "s" => (QuantityKind.Time, 1),
        "cm2" => (QuantityKind.Area, 1),
        "m2" => (QuantityKind.Area, 0.0001),
        "cm2/min" => (QuantityKind.CuttingRate, 1),
        "kJ" => (QuantityKind.Energy, 1),
        "J/mm3" => (QuantityKind.SpecificEnergy, 1),
        "share" => (QuantityKind.Share, 1),
        "MB" => (QuantityKind.DiskSpace, 1),
        _ => throw new InvalidOperationException($"No units are known for limits in {unit}."),
    };

    private sealed class LimitType(QuantityKind kind, double factor) : ConfigType<double>
    {
        public override bool TryRead(SourceNode node, string path, ReadContext context, out double value)
        {
            var good = QuantityType<double>.TryQuantity(node, path, kind, context, out value, out _);
            value *= factor;
            return good;
        }

        public override TypeDescription Describe() => new ScalarDescription { Kind = kind.Name, Forms = [SourceKind.Text], Pattern = kind.Pattern, Examples = kind.Examples };
    }
}
