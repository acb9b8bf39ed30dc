using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;
using SawEdge.Simulator.Randomness;
using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Population;

/// <summary>
/// One saw of the population: a virtual saw, and what its owner would have entered about it, which is not the same. True
/// specific force, rates, efficiency and idle power differ from the catalogue's and from saw to saw. All ranges are
/// choices, no source; they are meant to be wide.
/// </summary>
internal sealed class SawDraw
{
    // Streams of the draws of a saw, so that a longer list of jobs does not move the noise.
    private const ulong MachineStream = 101;
    private const ulong JobStream = 102;
    private const ulong NoiseStream = 103;

    // Longer cuts are not drawn: they cost time and show nothing else.
    private const double LongestCutS = 110;

    private static readonly string[] Blades = ["bimetal 2/3 tpi, kerf 1.6 mm", "bimetal 3/4 tpi, kerf 1.6 mm", "bimetal 3/4 tpi, kerf 1.3 mm", "bimetal 4/6 tpi, kerf 1.3 mm", "bimetal 4/6 tpi, kerf 1.5 mm"];
    private static readonly double[] Ratings = [2.2, 3, 4, 5.5, 7.5, 11, 15];

    private SawDraw(Mapping mapping, TimeSpan interval, VirtualSawOptions options, SawMachine machine, JobBook jobs)
    {
        Mapping = mapping;
        Interval = interval;
        Options = options;
        Machine = machine;
        Jobs = jobs;
    }

    public Mapping Mapping { get; }

    /// <summary>Time between frames.</summary>
    public TimeSpan Interval { get; }

    /// <summary>The virtual saw, without faults.</summary>
    public VirtualSawOptions Options { get; }

    /// <summary>What its owner entered.</summary>
    public SawMachine Machine { get; }

    /// <summary>The job list that its owner keeps.</summary>
    public JobBook Jobs { get; }

    /// <summary>Draws a saw.</summary>
    /// <param name="seed">Seed of the set.</param>
    /// <param name="scenario">What it is for: the saws of the parts of the evaluation differ.</param>
    /// <param name="number">Number within the seed.</param>
    /// <param name="changeAtLife">Share of its life after which the operator changes a blade.</param>
    /// <param name="startLife">Share of its life that the first blade has behind it at most.</param>
    /// <param name="shortestCutS">Shortest standard cut time of a job, s.</param>
    public static SawDraw Draw(ulong seed, string scenario, int number, double changeAtLife, double startLife, double shortestCutS = 12)
    {
        var item = ((ulong)scenario[0] << 32) + (ulong)number;
        var random = new Xoshiro256(seed, MachineStream, item);
        var mapping = Weighted(random);
        var interval = TimeSpan.FromMilliseconds(random.Uniform() switch { < 0.7 => 100, < 0.85 => 200, < 0.95 => 500, _ => 1000 });
        var blade = Blade.Parse(Blades[(int)(random.Uniform() * Blades.Length)], out var problem) ?? throw new InvalidOperationException(problem);
        var machine = new MachineProfile
        {
            Name = FormattableString.Invariant($"{scenario}-{seed}-{number}"),
            DriveEfficiency = random.Uniform(0.7, 0.88),
            BladeLengthMm = Math.Round(random.Uniform(3400, 6500)),
            ToothPitchMm = blade.PitchMm,
            KerfMm = blade.KerfMm,
            MaximumDescentMmMin = Math.Round(random.Uniform(120, 300)),
            RestHeightMm = Math.Round(random.Uniform(230, 320)),
            ApproachMmMin = random.Uniform(2000, 5000),
            ReturnMmMin = random.Uniform(3000, 7000),
            OvertravelMm = random.Uniform(2, 8),
            RapidGapMm = random.Uniform(4, 12),
            IndexStrokeS = random.Uniform(2, 6),
            BladeStopsBetweenCycles = random.Uniform() < 0.7,
            BladeStartS = random.Uniform(0.4, 1.8),
            IdleBaseKw = random.Uniform(0.2, 0.7),
            IdleSlopeKwPerMMin = random.Uniform(0.003, 0.009),
            CuttingBit = random.Uniform() < 0.6 ? CuttingBit.FeedStroke : CuttingBit.InStock,
            CycleActiveInRun = random.Uniform() < 0.25 && mapping.IsFull,
            CountDelayS = random.Uniform() < 0.5 ? 0 : random.Uniform(0, 2),
        };
        var entered = machine.ToSawMachine() with { DriveEfficiency = new SawMachine { Name = "" }.DriveEfficiency };
        var (jobs, book) = DrawJobs(new Xoshiro256(seed, JobStream, item), machine, entered, blade, shortestCutS);
        machine = machine with { RatedPowerKw = Rating(machine, jobs) };
        machine = machine with { InrushKw = machine.RatedPowerKw * random.Uniform(0.6, 1.8) };
        entered = entered with { RatedPowerKw = machine.RatedPowerKw };
        var shift = random.Uniform();
        var life = random.Uniform(4, 10);
        var options = new VirtualSawOptions
        {
            Machine = machine,
            Jobs = jobs,
            Seed = new Xoshiro256(seed, NoiseStream + 1, item).Next(),
            Start = new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero),
            Blade = new BladeModel
            {
                LifeM2 = life,
                StartAreaM2 = life * random.Uniform(0, startLife),
                SteadyRise = random.Uniform(0.18, 0.28),
                EndRise = random.Uniform(0.3, 0.45),
                EndPower = random.Uniform(6, 8),
                FeedYield = random.Uniform(0.1, 0.4),
                BreakInRate = random.Uniform() < 0.75 ? 1 : random.Uniform(0.6, 0.9),
                EnergySigma = 0.03 * HalfToDouble(random),
                ChangeAtLife = changeAtLife,
            },
            Noise = DrawNoise(new Xoshiro256(seed, NoiseStream, item)),
            Work = new WorkPattern
            {
                ExtraWaitS = random.Uniform(0.5, 4),
                StopChance = random.Uniform(0.005, 0.04),
                ShiftStart = shift < 0.5 ? null : new TimeOnly(6, 0),
                ShiftLength = TimeSpan.FromHours(shift < 0.75 ? 16 : 8),
            },
            Signals = mapping.Signals,
        };
        return new SawDraw(mapping, interval, options, entered, book);
    }

    private static double HalfToDouble(Xoshiro256 random) => Math.Pow(2, random.Uniform(-1, 1));

    private static Mapping Weighted(Xoshiro256 random)
    {
        var left = random.Uniform(0, Mapping.All.Sum(mapping => mapping.Weight));
        foreach (var mapping in Mapping.All)
        {
            left -= mapping.Weight;
            if (left < 0)
                return mapping;
        }

        return Mapping.All[0];
    }

    // The simulator's own figures, each by a factor of its own between a half and two.
    private static NoiseModel DrawNoise(Xoshiro256 random)
    {
        var usual = new NoiseModel();
        return usual with
        {
            LoadKw = usual.LoadKw * HalfToDouble(random),
            LoadShare = usual.LoadShare * HalfToDouble(random),
            DriftShare = usual.DriftShare * HalfToDouble(random),
            DriftS = usual.DriftS * HalfToDouble(random),
            HeadMm = usual.HeadMm * HalfToDouble(random),
            HeadStepMm = random.Uniform(0, 3) switch { < 1 => 0.01, < 2 => 0.1, _ => 0.2 },
            LoadStepKw = random.Uniform(0, 3) switch { < 1 => 0.001, < 2 => 0.01, _ => 0.02 },
            SpeedMMin = usual.SpeedMMin * HalfToDouble(random),
            TransducerLagS = 0.05 * Math.Pow(12, random.Uniform()),
            BarSigma = usual.BarSigma * HalfToDouble(random),
            CutSigma = usual.CutSigma * HalfToDouble(random),
            PaceSigma = usual.PaceSigma * HalfToDouble(random),
            HandlingSigma = usual.HandlingSigma * HalfToDouble(random),
            IdleSigma = 0.01 * HalfToDouble(random),
            ColdIdleShare = 0.1 * HalfToDouble(random),
            WarmUpS = 1800 * HalfToDouble(random),
        };
    }

    private static (VirtualJob[] Jobs, JobBook Book) DrawJobs(Xoshiro256 random, MachineProfile machine, SawMachine entered, Blade blade, double shortestCutS)
    {
        var kindOfShop = (int)(random.Uniform() * 3);
        var materials = MaterialCatalogue.BuiltIn.All;
        var count = 4 + (int)(random.Uniform() * 5);
        var ofSaw = random.LogNormal(0.12);
        var trueForce = new Dictionary<string, VirtualMaterial>(StringComparer.Ordinal);
        var jobs = new List<VirtualJob>();
        var cuts = new List<CutJob>();
        while (jobs.Count < count)
        {
            // Every other material is one that the saw has cut already, as in a shop.
            var material = cuts.Count > 0 && random.Uniform() < 0.5 ? cuts[(int)(random.Uniform() * cuts.Count)].Material : materials[(int)(random.Uniform() * materials.Count)];
            var cut = new CutJob { JobId = FormattableString.Invariant($"J-{jobs.Count + 1}"), Material = material, Section = SectionDraw.Draw(random, kindOfShop), Blade = blade };
            var force = random.LogNormal(0.15);
            var speed = Math.Round(Math.Min(140, CuttingModel.RecommendedSpeedMMin(cut, blade)) * random.Uniform(0.9, 1.1), 1);
            var standard = CuttingModel.Standard(cut, entered, speed);
            var own = random.LogNormal(0.06);
            var length = Math.Round(random.Uniform(120, 700));
            var quantity = 5 + (int)(random.Uniform() * 56);
            var barLength = random.Uniform() < 0.5 ? 3000 : 6000;
            if (standard.CutSeconds < shortestCutS || standard.CutSeconds > LongestCutS || cut.Section.HeightMm + machine.RapidGapMm > machine.RestHeightMm)
                continue;
            if (!trueForce.TryGetValue(material.Name, out var real))
                trueForce[material.Name] = real = new VirtualMaterial(material.Name, material.Kc11NMm2.Value * force, material.Mc.Value * random.Uniform(0.8, 1.25));
            cuts.Add(cut with { PartLengthMm = length, Pieces = quantity });
            jobs.Add(new VirtualJob
            {
                Id = cut.JobId,
                Section = cut.Section,
                Material = real,
                RateCm2Min = standard.RateCm2Min * ofSaw * own,
                BladeSpeedMMin = speed,
                PartLengthMm = length,
                Quantity = quantity,
                BarLengthMm = barLength,
            });
        }

        return ([.. jobs], new JobBook(cuts));
    }

    // The next motor size above what the heaviest job takes with a worn blade: real saws are not chosen too small.
    private static double Rating(MachineProfile machine, VirtualJob[] jobs)
    {
        var most = jobs.Max(job => machine.IdleKw(job.BladeSpeedMMin) + (1.5 * job.Material.Kc(0.008) * machine.KerfMm * job.RateCm2Min * 100 / (60e6 * machine.DriveEfficiency)));
        return Ratings.FirstOrDefault(rating => rating >= most, Ratings[^1]);
    }
}
