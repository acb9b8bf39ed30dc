using SawEdge.Core.Statistics;

namespace SawEdge.Core.Load;

/// <summary>What is known of a cut before its value is looked at.</summary>
/// <param name="Family">Family of kinds of cut whose offset it shares; empty: none.</param>
/// <param name="Section">Kind of cut whose own offset it has; empty: none.</param>
/// <param name="Bar">Bar; begins with ~ where it is a guess.</param>
/// <param name="AreaM2">Area cut since the last cut, m2.</param>
/// <param name="UnknownScale">Whether the family's offset may be anything: a load in kW without a section.</param>
/// <param name="ExtraVariance">Variance of the value beyond the usual scatter.</param>
internal readonly record struct TrendCut(string Family, string Section, string Bar, double AreaM2, bool UnknownScale = false, double ExtraVariance = 0);

/// <summary>What a cut's value is expected to be.</summary>
/// <param name="Mean">Mean, the bar's own offset included.</param>
/// <param name="Spread">Standard deviation of the value about it.</param>
/// <param name="BarlessMean">Mean for a bar of which nothing is known.</param>
/// <param name="BarlessSpread">Standard deviation about that.</param>
/// <param name="KindOffset">The part that belongs to the kind of cut.</param>
internal readonly record struct TrendExpectation(double Mean, double Spread, double BarlessMean, double BarlessSpread, double KindOffset);

/// <summary>
/// A value of each cut as the sum of a blade's level, which moves with the area it has cut, an offset of the kind of cut, and
/// one of the bar: value = level + offset(family) + offset(section) + offset(bar) + scatter, level rising by slope * area. One
/// Kalman filter (Kalman 1960) over all of them at once, so that what a change of job, bar or blade does is told apart. The
/// scatter within and between bars is learned from the innovations, in which an outlier counts little.
/// </summary>
internal sealed class BladeTrend
{
    private const int Level = 0;
    private const int Slope = 1;
    private const int BarOffset = 2;
    private const int FirstKind = 3;

    // How fast offsets of kinds may move from cut to cut; they are nearly fixed.
    private const double KindWalk = 2e-4;

    // Where bars are not told apart, an offset fades over about ten cuts, a usual number of parts from a bar.
    private const double BarFade = 0.9;

    private const int SettledAfter = 60;

    private const double LeastHeedOfUnknown = 0.25;

    // The usual reach: 95 % efficient where values are normal (Beaton and Tukey, Technometrics 16, 1974).
    private const double BiweightReach = 4.685;

    // Half of all standard normal values lie nearer to 0.
    private const double QuartileZ = 0.6744897501960817;

    private readonly TrendPriors _priors;
    private readonly KindSlots _families;
    private readonly KindSlots _sections;
    private KalmanFilter _filter;
    private string _bar = "";
    private bool _firstOfBar;
    private double _sigmaCut;
    private double _sigmaBar;
    private double _cuts;

    /// <summary>A trend that has seen nothing.</summary>
    /// <param name="priors">What is believed beforehand.</param>
    /// <param name="families">Families of kinds that are remembered.</param>
    /// <param name="sections">Kinds that are remembered.</param>
    public BladeTrend(TrendPriors priors, int families, int sections)
    {
        _priors = priors;
        _families = new KindSlots(families, FirstKind);
        _sections = new KindSlots(sections, FirstKind + families);
        _filter = new KalmanFilter(FirstKind + families + sections);
        _sigmaCut = priors.SigmaCut;
        _sigmaBar = priors.SigmaBar;
        _filter.SetState(Level, 0, priors.FirstLevelSd * priors.FirstLevelSd);
        _filter.SetState(Slope, priors.Slope, priors.SlopeSd * priors.SlopeSd);
        _filter.SetState(BarOffset, 0, _sigmaBar * _sigmaBar);
    }

    /// <summary>Level of the blade now.</summary>
    public double LevelNow => _filter.Mean(Level);

    /// <summary>Standard deviation of <see cref="LevelNow"/>.</summary>
    public double LevelSd => Math.Sqrt(_filter.Covariance(Level, Level));

    /// <summary>Scatter from cut to cut, learned.</summary>
    public double SigmaCut => _sigmaCut;

    /// <summary>Scatter from bar to bar, learned.</summary>
    public double SigmaBar => _sigmaBar;

    /// <summary>Whether enough was seen that the scatter is this saw's own.</summary>
    public bool IsSettled => _cuts >= SettledAfter;

    /// <summary>Another blade is on the saw.</summary>
    /// <param name="mean">Level expected of it.</param>
    /// <param name="sd">Standard deviation of that.</param>
    public void ChangeBlade(double mean, double sd)
    {
        // What is not known of levels and kinds apart stays as it is: a job that both blades cut has not changed with the blade.
        _filter.SetMean(Level, mean);
        _filter.AddVariance(Level, sd * sd);
        _filter.SetState(Slope, _priors.Slope, _priors.SlopeSd * _priors.SlopeSd);
    }

    /// <summary>The level may have become any other: what is seen next is taken as it is.</summary>
    public void Loosen() => _filter.AddVariance(Level, _priors.FirstLevelSd * _priors.FirstLevelSd);

    /// <summary>Moves on to a cut and says what is expected of it.</summary>
    public TrendExpectation Expect(in TrendCut cut)
    {
        _filter.Move(Level, Slope, cut.AreaM2);
        _filter.AddVariance(Level, _priors.LevelWalk * _priors.LevelWalk);
        _filter.AddVariance(Slope, _priors.SlopeWalk * _priors.SlopeWalk);
        MoveToBar(cut.Bar);
        Span<int> index = stackalloc int[5];
        Span<double> weight = stackalloc double[5];
        var terms = Row(cut, index, weight);
        foreach (var state in index[2..terms])
            _filter.AddVariance(state, KindWalk * KindWalk);
        var noise = (_sigmaCut * _sigmaCut) + cut.ExtraVariance;
        var (mean, variance) = _filter.Predict(index[..terms], weight[..terms]);

        // Without the bar: the row's second term is its offset.
        weight[1] = 0;
        var (barless, barlessVariance) = _filter.Predict(index[..terms], weight[..terms]);
        var offset = 0.0;
        foreach (var state in index[2..terms])
            offset += _filter.Mean(state);
        return new TrendExpectation(mean, Math.Sqrt(variance + noise), barless, Math.Sqrt(barlessVariance + noise + (_sigmaBar * _sigmaBar)), offset);
    }

    /// <summary>What a next cut of a kind would be expected to be, for a bar of which nothing is known. Nothing changes by it.</summary>
    /// <param name="family">See <see cref="TrendCut.Family"/>.</param>
    /// <param name="section">See <see cref="TrendCut.Section"/>.</param>
    /// <returns>Mean and standard deviation of the value.</returns>
    public (double Mean, double Spread) Peek(string family, string section)
    {
        Span<int> index = [Level, 0, 0];
        var terms = 1;
        var variance = (_sigmaCut * _sigmaCut) + (_sigmaBar * _sigmaBar);
        if (_families.Peek(family) is { } ofFamily)
            index[terms++] = ofFamily;
        else
            variance += _priors.FamilySd * _priors.FamilySd;
        if (_sections.Peek(section) is { } ofSection)
            index[terms++] = ofSection;
        else
            variance += _priors.SectionSd * _priors.SectionSd;
        ReadOnlySpan<double> weight = [1, 1, 1];
        var (mean, known) = _filter.Predict(index[..terms], weight[..terms]);
        return (mean, Math.Sqrt(variance + known));
    }

    /// <summary>Takes in the value of the cut that was expected last.</summary>
    public void Learn(in TrendCut cut, double value, in TrendExpectation expected)
    {
        Span<int> index = stackalloc int[5];
        Span<double> weight = stackalloc double[5];
        var terms = Row(cut, index, weight);
        var z = (value - expected.Mean) / expected.Spread;

        // The further out a value lies, the less it is heeded (Tukey's biweight): it shows in the score, and does not drag.
        // Unlike kinds of cut that are held against each other have no middle to which one could hold.
        var heed = cut.UnknownScale ? Math.Max(LeastHeedOfUnknown, BiweightOf(z)) : BiweightOf(z);
        if (heed > 0)
            _filter.Update(index[..terms], weight[..terms], value, ((_sigmaCut * _sigmaCut) + cut.ExtraVariance) / heed);
        _cuts++;

        // Only a value whose scatter is that of cuts, or of bars, tells how large it is.
        var step = ScatterStep(_cuts, z);
        var scatter = (_sigmaCut * _sigmaCut) + (_firstOfBar ? _sigmaBar * _sigmaBar : 0);
        if (scatter < 0.5 * expected.Spread * expected.Spread)
            return;
        if (_firstOfBar)
            _sigmaBar = Math.Clamp(_sigmaBar * Math.Exp(2 * step), _priors.SigmaBar / 8, _priors.SigmaBar * 8);
        else
            _sigmaCut = Math.Clamp(_sigmaCut * Math.Exp(step), _priors.SigmaCut / 8, _priors.SigmaCut * 8);
    }

    /// <summary>
    /// By how much one innovation moves the logarithm of a scatter: up where it lies outside the middle half of a normal
    /// distribution, down where it lies inside, however far (a stochastic approximation of the median, Robbins and Monro 1951);
    /// much at first, and then as if some hundred cuts were remembered.
    /// </summary>
    public static double ScatterStep(double cuts, double z) => Math.Max(0.02, 1.5 / (cuts + 5)) * (Math.Abs(z) > QuartileZ ? 1 : -1);

    private static double BiweightOf(double z)
    {
        var inside = 1 - (z * z / (BiweightReach * BiweightReach));
        return inside > 0 ? inside * inside : 0;
    }

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Text(_bar);
        to.Flag(_firstOfBar);
        to.Number(_sigmaCut);
        to.Number(_sigmaBar);
        to.Number(_cuts);
        _families.Save(to);
        _sections.Save(to);
        to.Numbers(_filter.Save());
    }

    /// <summary>Goes on from what was written down.</summary>
    public static BladeTrend Restore(MemoryReader from, TrendPriors priors, int families, int sections)
    {
        var trend = new BladeTrend(priors, families, sections)
        {
            _bar = from.Text(),
            _firstOfBar = from.Flag(),
            _sigmaCut = from.Number(),
            _sigmaBar = from.Number(),
            _cuts = from.Number(),
        };
        trend._families.Restore(from);
        trend._sections.Restore(from);
        trend._filter = KalmanFilter.Restore(FirstKind + families + sections, from.Numbers());
        return trend;
    }

    private void MoveToBar(string bar)
    {
        _firstOfBar = bar != _bar;
        if (_firstOfBar)
            _filter.SetState(BarOffset, 0, _sigmaBar * _sigmaBar);
        else if (bar.StartsWith('~'))
            _filter.Decay(BarOffset, BarFade, (1 - (BarFade * BarFade)) * _sigmaBar * _sigmaBar);
        _bar = bar;
    }

    private int Row(in TrendCut cut, Span<int> index, Span<double> weight)
    {
        weight.Fill(1);
        index[0] = Level;
        index[1] = BarOffset;
        var terms = 2;
        var familySd = cut.UnknownScale ? _priors.UnknownScaleSd : _priors.FamilySd;
        if (_families.Find(cut.Family, out var isNew) is { } family)
        {
            if (isNew)
                _filter.SetState(family, 0, familySd * familySd);
            index[terms++] = family;
        }

        if (_sections.Find(cut.Section, out isNew) is { } section)
        {
            if (isNew)
                _filter.SetState(section, 0, _priors.SectionSd * _priors.SectionSd);
            index[terms++] = section;
        }

        return terms;
    }
}

/// <summary>What is believed of a trend before a saw has shown anything; judgement, no source, unless said otherwise.</summary>
internal sealed record TrendPriors
{
    /// <summary>Of the first blade's level: how far the model may be off at a saw.</summary>
    public double FirstLevelSd { get; init; } = 0.3;

    /// <summary>Rise of a blade's level per m2 of area cut.</summary>
    public double Slope { get; init; } = 0.03;

    /// <summary>Standard deviation of it from blade to blade.</summary>
    public double SlopeSd { get; init; } = 0.03;

    /// <summary>How far the level wanders from one cut to the next beyond its slope.</summary>
    public double LevelWalk { get; init; } = 0.0006;

    /// <summary>How far the slope wanders from one cut to the next, per m2.</summary>
    public double SlopeWalk { get; init; } = 0.0005;

    /// <summary>How far a material, family and blade type may be off the model.</summary>
    public double FamilySd { get; init; } = 0.3;

    /// <summary>How far a single section may be off its family.</summary>
    public double SectionSd { get; init; } = 0.06;

    /// <summary>Of ln(net load in kW) of a job of which nothing is known.</summary>
    public double UnknownScaleSd { get; init; } = 2;

    /// <summary>Scatter from cut to cut.</summary>
    public double SigmaCut { get; init; } = 0.02;

    /// <summary>Scatter from bar to bar.</summary>
    public double SigmaBar { get; init; } = 0.03;
}
