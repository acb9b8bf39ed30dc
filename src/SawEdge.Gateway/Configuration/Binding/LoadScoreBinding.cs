using SawEdge.Core.Load;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares what a person may set about the load score.</summary>
internal static class LoadScoreBinding
{
    /// <summary>The settings.</summary>
    public static ObjectType<LoadSettings> Type { get; } = new("loadScore", "The load score of each cut: how rarely a normal cut looks this odd. Nothing has to be set.", Bind);

    private static LoadSettings Bind(ConfigObject o)
    {
        var alarms = o.Default("falseAlarmsPerMonth", new NumberType(whole: false, 0.01, 1000, "1"), "1", "False alarms that are accepted, per saw and 30 days; from which score on a cut is called unusual follows from the saw's own number of cuts.");
        var threshold = o.OptionalValue("threshold", new NumberType(whole: false, 1, LoadAssessment.Cap, "3"), "A fixed score instead, from which on a cut is called unusual: 3 means that one normal cut in 1,000 looks as odd.");
        var rise = o.Default("dullRise", Share, "25 %", "Rise of specific energy over the blade's own beginning at which the blade counts as dull (25 %: common practice, no source).");
        if (threshold.IsStated && alarms.IsStated)
            o.Warning(alarms, "has no effect beside a fixed threshold; leave one of the two out");
        return new LoadSettings { FalseAlarmsPerMonth = alarms, Threshold = threshold, DullRise = rise };
    }

    private static QuantityType<double> Share => new(QuantityKind.Share, "1 %", "300 %", value => value) { Usual = ("10 %", "100 %") };
}
