using System.Globalization;
using SawEdge.Core.Load;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Notification.Messages;
using SawEdge.Gateway.Notification.Pictures;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Notification;

public sealed class LoadPictureTests
{
    /// <summary>A round bar: the load follows the width of the cut; at 60 % of the depth something hard.</summary>
    public static ResidualProfile Round(float peak = 3.2f, int bins = 48)
    {
        var expected = Enumerable.Range(0, bins).Select(i => (float)(0.8 + (3.4 * Math.Sqrt(Math.Max(0, 1 - Math.Pow((2 * (i + 0.5) / bins) - 1, 2)))))).ToList();
        return new ResidualProfile(
            true,
            [.. expected.Select((value, i) => value + (0.12f * MathF.Sin(i * 2.1f)) + (peak * MathF.Exp(-MathF.Pow((i - (0.6f * bins)) / 2.5f, 2))))],
            expected,
            [.. expected.Select(value => value * 0.85f)],
            [.. expected.Select(value => value * 1.15f)],
            [.. expected.Select((_, i) => i == 29 ? 9f : 0.5f)]);
    }

    internal static Picture Sample(DisplayUnits units = DisplayUnits.Metric) => LoadPicture.Draw(Round(), 101.6, units)!;

    [PeerFact("python3")]
    public async Task Draw_AnyCut_IsAPictureThatOthersRead()
    {
        // Debian's python3 has zlib but no picture library: the file's structure is read by hand, checksums included.
        using var folder = new TempFolder();
        await File.WriteAllBytesAsync(folder.File("cut.png"), Sample().Png);
        const string Script = """
            import struct, sys, zlib
            data = open(sys.argv[1], 'rb').read()
            assert data[:8] == b'\x89PNG\r\n\x1a\n'
            at, names, idat = 8, [], b''
            while at < len(data):
                size, name = struct.unpack('>I4s', data[at:at + 8])
                body = data[at + 8:at + 8 + size]
                assert zlib.crc32(name + body) == struct.unpack('>I', data[at + 8 + size:at + 12 + size])[0], name
                names.append(name.decode())
                if name == b'IHDR': print(struct.unpack('>IIBBBBB', body))
                if name == b'IDAT': idat += body
                at += 12 + size
            print(names, len(zlib.decompress(idat)))
            """;

        var (exit, output) = await Peer.RunAsync("python3", ["-c", Script, folder.File("cut.png")]);

        Assert.True(exit == 0, output);
        Assert.Contains("(960, 540, 8, 2, 0, 0, 0)", output, StringComparison.Ordinal);
        Assert.Contains(string.Create(CultureInfo.InvariantCulture, $"['IHDR', 'IDAT', 'IEND'] {540 * (1 + (3 * 960))}"), output, StringComparison.Ordinal);
    }

    [Fact]
    public void Draw_ACut_IsSmallAndSaysInWordsWhatItShows()
    {
        var (metric, inch) = (Sample(), Sample(DisplayUnits.Inch));

        Assert.InRange(metric.Png.Length, 2_000, 40_000);
        Assert.Matches(@"^Motor load along the depth of the cut: at most 7\.\d+ kW at 6\d\.\d mm, where 4\.\d+ kW was expected\.$", metric.Words);
        Assert.Matches(@"at most 9\.\d+ hp at 2\.\d in, where 5\.\d+ hp was expected\.$", inch.Words);
    }

    [Fact]
    public void Draw_Gaps_AreLeftOut()
    {
        var profile = Round();
        float[] holes = [.. profile.LoadKw.Select((value, i) => i is > 10 and < 20 ? float.NaN : value)];
        float[] none = [.. profile.LoadKw.Select(_ => float.NaN)];

        Assert.NotNull(LoadPicture.Draw(profile with { LoadKw = holes, LowKw = none, HighKw = none, ExpectedKw = none }, double.NaN, DisplayUnits.Metric));
        Assert.Null(LoadPicture.Draw(profile with { LoadKw = none }, 100, DisplayUnits.Metric));
        Assert.Null(LoadPicture.Draw(new ResidualProfile(true, [], [], [], [], []), 100, DisplayUnits.Metric));
    }

    [Theory]
    [InlineData(0.001)]
    [InlineData(1)]
    [InlineData(37.5)]
    [InlineData(99_999)]
    public void Draw_AnyScale_HasLettersForItsNumbers(double factor)
    {
        var profile = Round();
        IReadOnlyList<float> Scaled(IReadOnlyList<float> values) => [.. values.Select(value => (float)(value * factor))];

        foreach (var whole in new[] { 0.5, 7, 1234.5, double.NaN })
            Assert.NotNull(LoadPicture.Draw(new ResidualProfile(false, Scaled(profile.LoadKw), Scaled(profile.ExpectedKw), Scaled(profile.LowKw), Scaled(profile.HighKw), profile.Standardised), whole, DisplayUnits.Inch));
    }

    [Fact]
    public void Stroke_ALine_CoversItsPixelsOnly()
    {
        var canvas = new Canvas(20, 10, new Colour(255, 255, 255));

        canvas.Stroke([(2, 5), (18, 5)], 2, new Colour(0, 0, 0));

        Assert.Equal(new Colour(0, 0, 0), canvas.At(10, 4));
        Assert.Equal(new Colour(0, 0, 0), canvas.At(10, 5));
        Assert.Equal(new Colour(255, 255, 255), canvas.At(10, 2));
        Assert.Equal(new Colour(255, 255, 255), canvas.At(10, 7));
    }
}
