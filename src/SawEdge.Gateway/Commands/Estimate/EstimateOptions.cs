using System.CommandLine;

namespace SawEdge.Gateway.Commands.Estimate;

/// <summary>The options of <c>estimate</c>. What describes the job is written as in the job list, what describes the saw as in the configuration.</summary>
internal sealed class EstimateOptions
{
    /// <summary>Options that are columns of the job list: option and column.</summary>
    public IReadOnlyList<(Option<string?> Option, string Column)> Job { get; } =
    [
        (Text("--material", "MATERIAL", "Material, for example 1045, C45, 1.4301.", "-m"), "material"),
        (Text("--section", "SECTION", "Section as it lies in the vise: \"round 100 mm\", \"tube 4 in x 1/4 in wall\", \"IPE 200, web flat\", \"bundle 2 x 5 of round 30 mm\".", "-s"), "section"),
        (Text("--blade", "BLADE", "Blade, for example \"bimetal 3/4 tpi, kerf 1.6 mm\". Left out: a pitch that suits the section.", "-b"), "blade"),
        (Text("--part-length", "LENGTH", "Length of a part."), "part_length"),
        (Text("--pieces", "NUMBER", "Parts wanted.", "-n", "--quantity"), "pieces"),
        (Text("--hardness", "HB", "Hardness of this stock, for example \"210 HB\"."), "hardness"),
        (Text("--coolant", "COOLANT", "flood (also where left out), mist or dry."), "coolant"),
        (Text("--standard", "STANDARD", "The plant's own standard, which stands above the catalogue: \"95 s\", \"70 cm2/min\"."), "standard"),
    ];

    /// <summary>Options that are settings of a saw: option and setting.</summary>
    public IReadOnlyList<(Option<string?> Option, string Setting)> Saw { get; } =
    [
        (Text("--capacity-height", "LENGTH", "Greatest height of stock."), "capacityHeight"),
        (Text("--capacity-width", "LENGTH", "Greatest width of stock."), "capacityWidth"),
        (Text("--rated-power", "POWER", "Rated power of the blade motor."), "ratedPower"),
        (Text("--drive-efficiency", "SHARE", "Share of the motor's power that reaches the blade; 80 % where left out."), "driveEfficiency"),
        (Text("--maximum-descent", "RATE", "Greatest descent rate while cutting."), "maximumDescent"),
        (Text("--rest-height", "LENGTH", "Height of the head at rest, above the table."), "restHeight"),
        (Text("--approach-rate", "RATE", "Rapid rate of the head down to the stock."), "approachRate"),
        (Text("--return-rate", "RATE", "Rate of the head back up."), "returnRate"),
        (Text("--shuttle-stroke", "LENGTH", "Greatest length of one shuttle stroke."), "shuttleStroke"),
        (Text("--stroke-time", "TIME", "Time of one shuttle stroke."), "strokeTime"),
        (Text("--clamp-time", "TIME", "Time to clamp."), "clampTime"),
        (Text("--unclamp-time", "TIME", "Time to unclamp."), "unclampTime"),
    ];

    /// <summary>Blade speed in use.</summary>
    public Option<string?> BladeSpeed { get; } = Text("--blade-speed", "SPEED", "Blade speed in use. Left out: the recommended one.");

    /// <summary>Area that the blade has cut.</summary>
    public Option<string?> BladeArea { get; } = Text("--blade-area", "AREA", "Area that the blade has cut so far, for a blade that is being broken in; \"0 cm2\" for a new one.");

    /// <summary>Idle power.</summary>
    public Option<string?> IdlePower { get; } = Text("--idle-power", "POWER", "Motor power with the blade running in air.");

    /// <summary>Length of a bar.</summary>
    public Option<string?> BarLength { get; } = Text("--bar-length", "LENGTH", "Length of a bar.");

    /// <summary>Length of the trim cut.</summary>
    public Option<string?> Trim { get; } = Text("--trim", "LENGTH", "Length that a trim cut takes off the end of each bar.");

    /// <summary>What the vise must hold.</summary>
    public Option<string?> Hold { get; } = Text("--hold", "LENGTH", "Least length that the vise must hold at the end of a bar.");

    /// <summary>The configuration.</summary>
    public Option<string?> Config { get; } = Text("--config", "FILE", "Configuration that describes the saw.", "-c");

    /// <summary>The saw in it.</summary>
    public Option<string?> SawName { get; } = Text("--saw", "NAME", "The saw of the configuration; left out where it has only one.");

    /// <summary>The plant's own catalogue.</summary>
    public Option<string?> Catalogue { get; } = Text("--catalogue", "FILE", "The plant's own materials and factors, in place of the configuration's.");

    /// <summary>Everything that goes into the question, in the order of the help.</summary>
    public IEnumerable<Option<string?>> All =>
        [.. Job.Select(j => j.Option), BladeSpeed, BladeArea, BarLength, Trim, Hold, Config, SawName, Catalogue, .. Saw.Select(s => s.Option), IdlePower];

    private static Option<string?> Text(string name, string value, string description, params string[] aliases) =>
        new(name, aliases) { Description = description, HelpName = value };
}
