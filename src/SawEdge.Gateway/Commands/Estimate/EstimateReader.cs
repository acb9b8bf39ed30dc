using System.CommandLine;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Binding;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Commands.Estimate;

/// <summary>Reads and checks what was asked; every mistake becomes one line that names its option.</summary>
internal sealed class EstimateReader(EstimateOptions options, ParseResult arguments, IReadOnlyDictionary<string, string> environment)
{
    private readonly List<string> _problems = [];
    private readonly Findings _findings = new();

    /// <summary>Reads everything.</summary>
    /// <param name="problems">What is wrong and what would be right, a line each; empty where there is a request.</param>
    /// <returns>The request; null where anything is wrong.</returns>
    public EstimateRequest? Read(out IReadOnlyList<string> problems)
    {
        problems = _problems;
        var (saw, catalogue) = ReadSaw();
        var job = ReadJob(catalogue);
        var own = ReadOwnMachine(out var stated);
        var question = new EstimateQuestion
        {
            Job = job!,
            Machine = Over(saw?.Machine ?? new SawMachine { Name = "the saw" }, own, stated),
            BladeSpeedMMin = Value(options.BladeSpeed, new QuantityType<double>(QuantityKind.Speed, "1 m/min", "3000 m/min", v => v)),
            BladeAreaCm2 = Value(options.BladeArea, new QuantityType<double>(QuantityKind.Area, "0 cm2", "10000 m2", v => v)),
            IdlePowerKw = Value(options.IdlePower, new QuantityType<double>(QuantityKind.Power, "0 kW", "1000 kW", v => v)),
            BarLengthMm = Value(options.BarLength, ValueTypes.Length("1 mm", "100 m")),
            TrimMm = Value(options.Trim, ValueTypes.Length("0 mm", "100 m")) ?? 0,
            HoldMm = Value(options.Hold, ValueTypes.Length("0 mm", "100 m")) ?? 0,
        };
        var doubts = new List<string>();
        foreach (var finding in _findings.InOrder(null))
            (finding.Severity == FindingSeverity.Error ? _problems : doubts).Add($"{finding.Path}: {finding.Message}.");
        if (job is not null && _problems.Count == 0)
            Refuse(question);
        return _problems.Count > 0 ? null : new EstimateRequest
        {
            Question = question,
            SawName = saw?.Name ?? "",
            SourceOf = setting => stated.Contains(setting) || saw is null ? "with the question" : $"settings of {saw.Name}",
            KerfIsStated = Words(options.Job.First(j => j.Column == "blade").Option)?.Contains("kerf", StringComparison.OrdinalIgnoreCase) ?? false,
            Doubts = doubts,
        };
    }

    private string? Words(Option<string?> option) => arguments.GetValue(option);

    private double? Value(Option<string?> option, ConfigType<double> type) =>
        Words(option) is { } text && type.TryRead(SourceNode.Loose(text), option.Name, new ReadContext(_findings, ""), out var value) ? value : null;

    private CutJob? ReadJob(MaterialCatalogue catalogue)
    {
        var values = options.Job.Where(j => Words(j.Option) is not null).ToDictionary(j => j.Column, j => Words(j.Option)!);
        values["job"] = "estimate";
        var job = JobBook.ReadJob(values, catalogue, out var problems);
        _problems.AddRange(problems.Select(NameTheOption));
        return job;
    }

    /// <summary>Problems of the job list begin with their column, which here is an option.</summary>
    private string NameTheOption(string problem)
    {
        foreach (var (option, column) in options.Job)
        {
            if (problem.StartsWith(column + " ", StringComparison.Ordinal))
                return $"{option.Name}:{problem[column.Length..]}";
            if (problem.StartsWith($"the {column} is missing", StringComparison.Ordinal))
                return $"{option.Name}: {problem}";
        }

        return problem.Contains("blade", StringComparison.Ordinal) ? $"--blade: {problem}" : problem;
    }

    private (SawOptions? Saw, MaterialCatalogue Catalogue) ReadSaw()
    {
        SawOptions? saw = null;
        var catalogue = MaterialCatalogue.BuiltIn;
        if (Words(options.Config) is { } file)
        {
            var loaded = ConfigurationFile.Load(file, environment);
            _problems.AddRange(loaded.Errors.Select(error => CheckCommand.Line(file, error)));
            catalogue = loaded.Options?.Catalogue ?? catalogue;
            saw = loaded.Options is { } configuration ? Choose(configuration, file) : null;
        }
        else if (Words(options.SawName) is not null)
        {
            _problems.Add("--saw: needs the configuration that describes the saw; write --config FILE.");
        }

        if (Words(options.Catalogue) is { } own)
        {
            catalogue = CatalogueFile.Read(own, out var problems);
            _problems.AddRange(problems.Select(problem => $"--catalogue: {problem.TrimEnd('.')}."));
        }

        return (saw, catalogue);
    }

    private SawOptions? Choose(GatewayOptions configuration, string file)
    {
        var names = configuration.Saws.Select(saw => saw.Name).ToList();
        if (Words(options.SawName) is { } name)
        {
            if (configuration.Saws.FirstOrDefault(saw => saw.Name == name) is { } found)
                return found;
            _problems.Add($"--saw: {file} describes no saw {Configuration.Reading.Words.Quoted(name)}; {Configuration.Reading.Words.DidYouMean(name, names)}");
            return null;
        }

        if (names.Count == 1)
            return configuration.Saws[0];
        _problems.Add($"--saw: {file} describes {names.Count} saws; write --saw with one of {string.Join(", ", names)}.");
        return null;
    }

    /// <summary>The settings that stand on the command line, read as the configuration reads them.</summary>
    private SawMachine ReadOwnMachine(out HashSet<string> stated)
    {
        var node = new SourceNode(SourceKind.Object, "", default);
        foreach (var (option, setting) in options.Saw)
        {
            if (Words(option) is { } text)
                node.Set(setting, SourceNode.Loose(text));
        }

        stated = [.. node.Members.Select(member => member.Key)];
        var findings = new Findings();
        SawBinding.Machine.TryRead(node, "", new ReadContext(findings, ""), out var machine);
        foreach (var finding in findings.InOrder(null))
            _findings.Add(finding with { Path = options.Saw.FirstOrDefault(s => s.Setting == finding.Path).Option?.Name ?? finding.Path });
        return machine?.Machine ?? new SawMachine { Name = "the saw" };
    }

    private static SawMachine Over(SawMachine saw, SawMachine own, HashSet<string> stated) => saw with
    {
        CapacityHeightMm = own.CapacityHeightMm ?? saw.CapacityHeightMm,
        CapacityWidthMm = own.CapacityWidthMm ?? saw.CapacityWidthMm,
        RatedPowerKw = own.RatedPowerKw ?? saw.RatedPowerKw,
        DriveEfficiency = stated.Contains("driveEfficiency") ? own.DriveEfficiency : saw.DriveEfficiency,
        MaximumDescentMmMin = own.MaximumDescentMmMin ?? saw.MaximumDescentMmMin,
        RestHeightMm = own.RestHeightMm ?? saw.RestHeightMm,
        ApproachMmMin = own.ApproachMmMin ?? saw.ApproachMmMin,
        ReturnMmMin = own.ReturnMmMin ?? saw.ReturnMmMin,
        ShuttleStrokeMm = own.ShuttleStrokeMm ?? saw.ShuttleStrokeMm,
        IndexStrokeS = own.IndexStrokeS ?? saw.IndexStrokeS,
        ClampS = own.ClampS ?? saw.ClampS,
        UnclampS = own.UnclampS ?? saw.UnclampS,
    };

    /// <summary>What is readable and still makes no sense.</summary>
    private void Refuse(EstimateQuestion question)
    {
        var (job, machine) = (question.Job, question.Machine);
        _problems.AddRange(MachineFit.Problems(job.Section, machine).Select(problem => $"--section: {problem}"));
        if (question.IdlePowerKw >= machine.RatedPowerKw)
            _problems.Add($"--idle-power: {Say(question.IdlePowerKw!.Value, "kW")} is not below the rated power of {Say(machine.RatedPowerKw!.Value, "kW")}; is one of them in another unit?");
        if (question.BarLengthMm is not { } bar)
        {
            foreach (var option in new[] { options.Trim, options.Hold }.Where(option => Words(option) is not null))
                _problems.Add($"{option.Name}: belongs to a bar; write --bar-length too, or leave it out.");
            return;
        }

        if (job.PartLengthMm is not { } part)
            _problems.Add("--bar-length: what a bar yields depends on the length of a part; write --part-length too.");
        else if (CutEstimate.Of(question).Bar is not { Parts: > 0 })
            _problems.Add(part > bar
                ? $"--part-length: {Say(part, "mm")} is longer than the bar of {Say(bar, "mm")}."
                : $"--part-length: a bar of {Say(bar, "mm")} gives no part of {Say(part, "mm")} beside its kerf, trim and what the vise holds.");
    }

    private static string Say(double value, string unit) => DisplayText.Text(DisplayUnits.Metric, value, unit);
}
